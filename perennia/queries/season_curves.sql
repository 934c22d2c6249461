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
-- cumulative: crop up to the end of that day, each picking spread evenly over the days since the last picking, look or regrowth
-- per_day: crop of that day, in the measure a day, without what was stripped in clearance
-- measure: g or count
-- finished: whether the season is over for this plant; a running curve can still grow
-- cumulative_g: cumulative in g, whatever the measure; missing where a picking of that plant and season has no weight
-- g_per_day: per_day in g a day, on the same terms
-- cumulative_count: cumulative by count; missing where a picking of that plant and season was not counted
-- count_per_day: per_day by count, on the same terms
WITH days AS (
    SELECT *, CAST(unnest(generate_series(from_day + 1, to_day, INTERVAL 1 DAY)) AS DATE) AS ripe_on
    FROM inside.curve_segments
    JOIN inside.plant_numbers USING (number)
),

reached AS (
    SELECT
        *,
        cumulative_from + (cumulative_to - cumulative_from) * (ripe_on - from_day) / (to_day - from_day) AS cumulative,
        (steady_to - steady_from) / (to_day - from_day) AS per_day,
        other_from + (other_to - other_from) * (ripe_on - from_day) / (to_day - from_day) AS other_cumulative,
        (other_steady_to - other_steady_from) / (to_day - from_day) AS other_per_day
    FROM days
)

SELECT
    reached.plant,
    seasons.label,
    reached.season,
    seasons.crop,
    seasons.stock,
    reached.ripe_on AS "on",
    reached.ripe_on - season_first_day(reached.season, lives.season_starts) + 1 AS day_of_season,
    reached.ripe_on - seasons.started_on AS days_since_start,
    reached.cumulative,
    reached.per_day,
    reached.measure,
    seasons.finished,
    CASE reached.measure WHEN 'g' THEN reached.cumulative ELSE reached.other_cumulative END AS cumulative_g,
    CASE reached.measure WHEN 'g' THEN reached.per_day ELSE reached.other_per_day END AS g_per_day,
    CASE reached.measure WHEN 'g' THEN reached.other_cumulative ELSE reached.cumulative END AS cumulative_count,
    CASE reached.measure WHEN 'g' THEN reached.other_per_day ELSE reached.per_day END AS count_per_day
FROM reached
JOIN plant_seasons AS seasons ON seasons.plant = reached.plant AND seasons.season = reached.season
JOIN plants AS lives ON lives.plant = reached.plant
