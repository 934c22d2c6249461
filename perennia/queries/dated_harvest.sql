-- one row is: one row of harvest with the plant it is about, the day taken, and the growing year that day lies in
-- needs: harvest_rows, sole_lives, ambiguous_harvest, entry_plants, plant_numbers, place_calendar
-- kept: view
-- in two parts, so that the plants of most rows are told by a single join, and who asks for some plants only reads no
-- row of the others
WITH owned AS (
    SELECT rows.*, sole.number, sole.plant, sole.crop, sole.began_on, sole.ended_on, sole.starts
    FROM inside.harvest_rows AS rows
    JOIN inside.sole_lives AS sole
        ON sole.label = rows.label
        AND can_lie_within(rows.on_from, rows.on_to, sole.from_day, sole.to_day)
    UNION ALL
    SELECT
        rows.*, lives.number, lives.plant, lives.crop, lives.began_on, lives.ended_on,
        coalesce(lives.starts, CAST(replace(coalesce(beds.season_starts, '01-01'), '-', '') AS INTEGER)) AS starts
    FROM inside.harvest_rows AS rows
    JOIN inside.ambiguous_harvest AS ambiguous
        ON ambiguous.record_id = rows.record_id AND ambiguous.label IS NOT DISTINCT FROM rows.label
    LEFT JOIN inside.entry_plants AS known
        ON known.record_id = rows.record_id AND known.label = rows.label AND known.event = rows.event
        AND rows.event IN ('picked', 'left_for_seed')
    LEFT JOIN inside.plant_numbers AS lives ON lives.plant = known.plant
    LEFT JOIN inside.place_calendar AS beds ON beds.bed = rows.bed
),

dated AS (
    SELECT
        * EXCLUDE (grams, "count", shared_by, minutes, cost, began_on, ended_on),
        least(greatest(middle_day(on_from, on_to), began_on), ended_on) AS "on",
        grams / shared_by AS grams,
        "count" / coalesce(shared_by, 1) AS "count",
        coalesce(shared_by, 1) AS shared_by,
        minutes / coalesce(shared_by, 1) AS minutes,
        cost / coalesce(shared_by, 1) AS cost
    FROM owned
)

SELECT
    *,
    growing_year("on", starts) AS calendar_season,
    event = 'picked' AND took_crop(grams, "count") AS cropped
FROM dated
