-- one row is: one plant, by its number, and season with what its crop is measured in, and over how many days the first of
-- it ripened
-- needs: plant_numbers, season_totals, usual_gaps, life_seasons
-- kept: table
-- other_measure is the other of the two measures, g or count, where every picking has it as well
SELECT
    numbers.number,
    CAST(totals.season AS INTEGER) AS season,
    totals.measure,
    CASE WHEN totals.measure = 'count' AND totals.unweighed = 0 THEN 'g'
         WHEN totals.measure = 'g' AND totals.uncounted = 0 THEN 'count' END AS other_measure,
    coalesce(gaps.gap_days, 1) AS gap_days,
    seasons.first_day
FROM season_totals AS totals
JOIN inside.plant_numbers AS numbers ON numbers.plant = totals.plant
JOIN inside.life_seasons AS seasons ON seasons.plant = totals.plant AND seasons.season = totals.season
LEFT JOIN inside.usual_gaps AS gaps ON gaps.crop IS NOT DISTINCT FROM totals.crop
