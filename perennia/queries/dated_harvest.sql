-- one row is: one row of harvest with the plant it is about, the day taken, and the growing year that day lies in
-- needs: harvest_rows, sole_lives, entry_plants, plant_numbers, place_calendar
-- kept: view
WITH known AS (
    SELECT entries.record_id, entries.event, entries.label, numbers.number
    FROM inside.entry_plants AS entries
    JOIN inside.plant_numbers AS numbers ON numbers.plant = entries.plant
    WHERE entries.event IN ('picked', 'left_for_seed')
),

-- in two parts, so that who asks for some plants only reads no row of the others
owned AS (
    SELECT rows.*, sole.number
    FROM inside.harvest_rows AS rows
    JOIN inside.sole_lives AS sole
        ON sole.label = rows.label
        AND sole.from_day <= rows.on_to
        AND sole.to_day >= coalesce(rows.on_from, DATE '0001-01-01')
    UNION ALL
    SELECT rows.*, known.number
    FROM inside.harvest_rows AS rows
    ANTI JOIN inside.sole_lives AS sole
        ON sole.label = rows.label
        AND sole.from_day <= rows.on_to
        AND sole.to_day >= coalesce(rows.on_from, DATE '0001-01-01')
    LEFT JOIN known ON known.record_id = rows.record_id AND known.event = rows.event AND known.label = rows.label
),

dated AS (
    SELECT
        rows.* EXCLUDE (grams, "count", shared_by, minutes, cost),
        lives.plant,
        lives.crop,
        coalesce(lives.starts, CAST(replace(coalesce(beds.season_starts, '01-01'), '-', '') AS INTEGER)) AS starts,
        least(
            greatest(
                middle_day(rows.on_from, rows.on_to),
                lives.began_on
            ),
            lives.ended_on
        ) AS "on",
        rows.grams / rows.shared_by AS grams,
        rows."count" / coalesce(rows.shared_by, 1) AS "count",
        coalesce(rows.shared_by, 1) AS shared_by,
        rows.minutes / coalesce(rows.shared_by, 1) AS minutes,
        rows.cost / coalesce(rows.shared_by, 1) AS cost
    FROM owned AS rows
    LEFT JOIN inside.plant_numbers AS lives ON lives.number = rows.number
    LEFT JOIN inside.place_calendar AS beds ON rows.bed = beds.bed
)

SELECT
    *,
    growing_year("on", starts) AS calendar_season,
    event = 'picked' AND took_crop(grams, "count") AS cropped
FROM dated
