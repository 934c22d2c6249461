-- one row is: one row of harvest with the plant it is about, the day taken, and the growing year that day lies in
-- needs: harvest_rows, sole_lives, entry_plants, plants, place_calendar
-- kept: view
WITH placed AS (
    SELECT
        rows.* EXCLUDE (grams, "count", shared_by, minutes, cost),
        lives.plant,
        lives.crop,
        coalesce(lives.season_starts, beds.season_starts, '01-01') AS season_starts,
        least(
            greatest(
                coalesce(rows.on_from + CAST(floor((rows.on_to - rows.on_from) / 2) AS INTEGER), rows.on_to),
                lives.began_on
            ),
            lives.ended_on
        ) AS "on",
        rows.grams / rows.shared_by AS grams,
        rows."count" / coalesce(rows.shared_by, 1) AS "count",
        coalesce(rows.shared_by, 1) AS shared_by,
        rows.minutes / coalesce(rows.shared_by, 1) AS minutes,
        rows.cost / coalesce(rows.shared_by, 1) AS cost
    FROM inside.harvest_rows AS rows
    LEFT JOIN inside.sole_lives AS sole
        ON sole.label = rows.label
        AND sole.from_day <= rows.on_to
        AND sole.to_day >= coalesce(rows.on_from, DATE '0001-01-01')
    LEFT JOIN inside.entry_plants AS known
        ON known.record_id = rows.record_id AND known.event = rows.event AND known.label = rows.label
    LEFT JOIN plants AS lives ON lives.plant = coalesce(sole.plant, known.plant)
    LEFT JOIN inside.place_calendar AS beds ON rows.bed = beds.bed
)

SELECT
    *,
    season_year("on", season_starts) AS calendar_season,
    event = 'picked' AND took_crop(grams, "count") AS cropped
FROM placed
