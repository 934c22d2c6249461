-- one row is: one plant and season with its pickings and looks added up
-- needs: placed_harvest, plant_numbers
-- kept: table
WITH added AS (
    SELECT
        number,
        season,
        sum(grams) AS weighed_g,
        sum("count") AS counted,
        count(*) FILTER (cropped) AS pickings,
        count(*) FILTER (cropped AND grams IS NULL) AS unweighed,
        count(*) FILTER (cropped AND "count" IS NULL) AS uncounted,
        count(*) FILTER (NOT cropped) AS looks,
        sum(grams) FILTER (clearance) AS clearance_g,
        sum("count") FILTER (clearance) AS clearance_count,
        sum(grams) FILTER (shared_by > 1) AS shared_g,
        sum("count") FILTER (shared_by > 1) AS shared_count,
        count(*) FILTER (NOT coalesce(is_dated(on_from, on_to), false)) AS spans_left_out,
        sum(minutes) AS minutes,
        min("on") FILTER (cropped) AS first_crop,
        max("on") FILTER (cropped) AS last_crop,
        min("on") AS first_visit
    FROM inside.placed_harvest
    WHERE event = 'picked' AND number IS NOT NULL
    GROUP BY number, season
)

SELECT numbers.plant, numbers.crop, added.*
FROM added
JOIN inside.plant_numbers AS numbers USING (number)
