-- one row is: one plant, by its number, and season with a day on whose end its curve sets out anew, after an act that ended
-- a run of picking: one usual gap before it was next picked or looked at, and not before that act
-- needs: placed_harvest, picked_seasons, measured_seasons, plant_numbers, plants, steps
-- kept: table
-- what a plant gave once it had grown again did not ripen while it was cut back, dead back or out of the ground
WITH stops AS (
    -- most stops are at the end of a season; only those that a crop of the same season came after matter
    SELECT numbers.number, taken.season, steps.placed_on AS stopped_on
    FROM inside.steps AS steps
    JOIN plants AS lives ON lives.label = steps.label AND lives.life = steps.life
    JOIN inside.plant_numbers AS numbers ON numbers.plant = lives.plant
    JOIN inside.picked_seasons AS taken ON taken.number = numbers.number AND steps.placed_on < taken.last_crop
    JOIN inside.measured_seasons AS seasons
        ON seasons.number = taken.number AND seasons.season = taken.season AND steps.placed_on >= seasons.first_day
    WHERE ends_run(steps.act) AND NOT steps.refused
),

visits AS (
    SELECT number, season, "on", bool_or(cropped) AS cropped
    FROM inside.placed_harvest AS rows
    SEMI JOIN stops ON stops.number = rows.number AND stops.season = rows.season
    WHERE event = 'picked' AND is_dated(on_from, on_to)
    GROUP BY number, season, "on"
),

resumed AS (
    SELECT
        stops.number,
        stops.season,
        stops.stopped_on,
        min(visits."on") FILTER (visits."on" > stops.stopped_on) AS next_on
    FROM stops
    JOIN visits ON visits.number = stops.number AND visits.season = stops.season
    GROUP BY stops.number, stops.season, stops.stopped_on
    HAVING min(visits."on") <= stops.stopped_on
        AND max(visits."on") FILTER (visits.cropped) > stops.stopped_on
)

-- of several acts before one picking the last
SELECT
    resumed.number,
    resumed.season,
    max(greatest(resumed.stopped_on, resumed.next_on - seasons.gap_days)) AS "on"
FROM resumed
JOIN inside.measured_seasons AS seasons ON seasons.number = resumed.number AND seasons.season = resumed.season
GROUP BY resumed.number, resumed.season, resumed.next_on
