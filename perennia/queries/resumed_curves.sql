-- one row is: one plant, by its number, and season with a day on which it is on record as come up, grown again or set out
-- again between two pickings or looks: what it gave after that day ripened since
-- needs: placed_harvest, picked_seasons, plant_numbers, plants, steps
-- kept: table
WITH beginnings AS (
    -- most are in spring, before anything was picked or looked at
    SELECT DISTINCT numbers.number, taken.season, steps.placed_on AS "on"
    FROM inside.steps AS steps
    JOIN plants AS lives ON lives.label = steps.label AND lives.life = steps.life
    JOIN inside.plant_numbers AS numbers ON numbers.plant = lives.plant
    JOIN inside.picked_seasons AS taken
        ON taken.number = numbers.number
        AND steps.placed_on > taken.first_visit AND steps.placed_on < taken.last_crop
    WHERE steps.act IN ('emerged', 'regrew', 'replanted') AND NOT steps.refused
        AND is_dated(steps.on_from, steps.on_to)
),

visits AS (
    SELECT
        number,
        season,
        min("on") AS first_on,
        max("on") FILTER (cropped) AS last_crop
    FROM inside.placed_harvest AS rows
    SEMI JOIN beginnings ON beginnings.number = rows.number AND beginnings.season = rows.season
    WHERE event = 'picked' AND is_dated(on_from, on_to)
    GROUP BY number, season
)

SELECT beginnings.number, beginnings.season, beginnings."on"
FROM beginnings
JOIN visits
    ON visits.number = beginnings.number AND visits.season = beginnings.season
    AND beginnings."on" > visits.first_on AND beginnings."on" < visits.last_crop
