-- one row is: one plant, season and day between the start of its crop and its last picking or look
-- grain: plant, season, on
-- needs: curve_segments, plant_numbers, plant_seasons, plants
-- kept: view
-- shown: yes
-- plant: the plant, as label / year begun
-- label: the grower's own name
-- season: integer year of the first day of the growing year
-- crop: botanical name
-- stock: fresh, overwintered, or what else it was raised from
-- on: the day
-- day_of_season: its number in the growing year, 1 for the first day
-- days_since_start: days since growth started (sowing, planting or regrowth); missing where that is not recorded
-- cumulative: crop up to the end of that day, pickings spread evenly over the days since the last picking or look
-- per_day: crop of that day, in the measure a day, without what was stripped in clearance
-- measure: g or count
-- finished: whether the season is over for this plant; a running curve can still grow
WITH days AS (
    SELECT *, unnest(generate_series(from_day + 1, to_day, INTERVAL 1 DAY)) AS at
    FROM inside.curve_segments
    JOIN inside.plant_numbers USING (number)
)

SELECT
    days.plant,
    seasons.label,
    days.season,
    seasons.crop,
    seasons.stock,
    CAST(days.at AS DATE) AS "on",
    CAST(days.at AS DATE) - season_first_day(days.season, lives.season_starts) + 1 AS day_of_season,
    CAST(days.at AS DATE) - seasons.started_on AS days_since_start,
    cumulative_from
        + (cumulative_to - cumulative_from) * (CAST(days.at AS DATE) - from_day) / (to_day - from_day) AS cumulative,
    (steady_to - steady_from) / (to_day - from_day) AS per_day,
    days.measure,
    seasons.finished
FROM days
JOIN plant_seasons AS seasons ON seasons.plant = days.plant AND seasons.season = days.season
JOIN plants AS lives ON lives.plant = days.plant
