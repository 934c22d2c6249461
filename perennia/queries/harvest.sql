-- one row is: one label's share of one picking, or one note of what was left for seed, or one bed's span of full books
-- grain: record_id, label
-- needs: harvest_rows, entry_plants, plants, crop_profiles, steps, place_calendar
-- kept: table
-- shown: yes
-- plant: the plant, as label / year begun; missing for books_kept
-- label: the grower's own name; missing for books_kept
-- crop: botanical name
-- season: integer year of the first day of the growing year the row counts for
-- event: picked, left_for_seed or books_kept
-- on: day taken: the day itself, or the middle of its span (last day when the first is open), within the plant's life
-- on_from: first day it can have happened (first day of the books for books_kept)
-- on_to: last day it can have happened (last day of the books for books_kept)
-- grams: this label's share of the weight in g, the whole divided by the labels picked together
-- count: this label's share of the count, the whole divided by the labels picked together
-- shared_by: labels picked together, 1 for a picking of its own
-- use: what it was for
-- grade: the grower's own grade
-- clearance: everything stripped, ripe or not
-- bed: the bed, for books_kept only
-- minutes: this label's share of the time in minutes
-- cost: this label's share of the cost
-- note: the grower's note
-- record_id: the record, and so the picking, the row belongs to (32 hexadecimal digits)
WITH placed AS (
    SELECT
        lives.plant,
        label,
        lives.crop,
        coalesce(lives.season_starts, beds.season_starts, '01-01') AS season_starts,
        event,
        least(
            greatest(
                coalesce(rows.on_from + CAST(floor((rows.on_to - rows.on_from) / 2) AS INTEGER), rows.on_to),
                lives.began_on
            ),
            lives.ended_on
        ) AS "on",
        rows.on_from,
        rows.on_to,
        rows.grams / rows.shared_by AS grams,
        rows."count" / coalesce(rows.shared_by, 1) AS "count",
        coalesce(rows.shared_by, 1) AS shared_by,
        rows."use",
        rows.grade,
        rows.clearance,
        rows.bed,
        rows.minutes / coalesce(rows.shared_by, 1) AS minutes,
        rows.cost / coalesce(rows.shared_by, 1) AS cost,
        rows.note,
        rows.record_id
    FROM inside.harvest_rows AS rows
    LEFT JOIN inside.entry_plants AS known USING (record_id, event, label)
    LEFT JOIN plants AS lives ON lives.plant = known.plant
    LEFT JOIN inside.place_calendar AS beds ON rows.bed = beds.bed
),

-- acts that end a run of picking, numbered, so that two pickings with one between them get different numbers
breaks AS (
    SELECT label, placed_on, row_number() OVER (PARTITION BY label ORDER BY ordinal) AS number
    FROM inside.steps
    WHERE act IN ('died_back_whole', 'cut_back', 'lifted')
),

linked AS (
    SELECT
        placed.*,
        season_year(placed."on", placed.season_starts) AS calendar_season,
        coalesce(breaks.number, 0) AS break_number,
        placed.event = 'picked' AND coalesce(placed.grams, placed."count") > 0 AS cropped,
        -- our own rule: a run is unbroken while gaps stay within three usual picking gaps, at the least 21 days
        greatest(21, 3 * coalesce(profiles.usual_picking_gap_days, 7)) AS longest_gap_days
    FROM placed
    LEFT JOIN inside.crop_profiles AS profiles ON profiles.crop = profile_name(placed.crop)
    ASOF LEFT JOIN breaks ON placed.label = breaks.label AND placed."on" > breaks.placed_on
),

runs AS (
    SELECT
        *,
        cropped AND NOT coalesce(
            lag(break_number) OVER by_plant = break_number
            AND "on" - lag("on") OVER by_plant <= longest_gap_days, false
        ) AS broken
    FROM linked
    WINDOW by_plant AS (PARTITION BY plant, cropped ORDER BY "on", record_id)
)

SELECT
    plant,
    label,
    crop,
    CAST(calendar_season - CASE
        WHEN cropped
            AND "on" - season_first_day(calendar_season, season_starts) < 60
            AND sum(CAST(broken AS INTEGER)) OVER (
                PARTITION BY plant, cropped, calendar_season ORDER BY "on", record_id
            ) = 0
        THEN 1 ELSE 0
    END AS BIGINT) AS season,
    event, "on", on_from, on_to, grams, "count", shared_by, "use", grade, clearance, bed, minutes, cost, note,
    lower(hex(record_id)) AS record_id
FROM runs
