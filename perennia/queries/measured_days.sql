-- one row is: one plant, by its number, season and day on which it was picked or looked at, with the crop in its measure
-- needs: picking_days, plant_numbers, season_totals, usual_gaps, life_seasons
-- kept: view
-- measure, amount and steady (without what was stripped in clearance, which counts in totals but in no rate) are missing
-- where not all pickings of the season were weighed, nor all counted; other and other_steady are the same in the other
-- of the two measures; opens_on is the day on whose end the curve would
-- begin if this were the first entry: it gathered what ripened over one usual gap, but no part before the season began
WITH measured_seasons AS (
    SELECT
        numbers.number,
        CAST(totals.season AS INTEGER) AS season,
        totals.measure,
        CASE WHEN totals.measure = 'count' AND totals.unweighed = 0 THEN 'g'
             WHEN totals.measure = 'g' AND totals.uncounted = 0 THEN 'count' END AS other_measure,
        gaps.gap_days,
        seasons.first_day
    FROM season_totals AS totals
    JOIN inside.plant_numbers AS numbers ON numbers.plant = totals.plant
    JOIN inside.life_seasons AS seasons ON seasons.plant = totals.plant AND seasons.season = totals.season
    LEFT JOIN inside.usual_gaps AS gaps ON gaps.crop IS NOT DISTINCT FROM totals.crop
)

SELECT
    days.number,
    days.season,
    days."on",
    days.cropped,
    days.picked,
    totals.measure,
    CASE totals.measure WHEN 'g' THEN days.grams WHEN 'count' THEN days."count" END AS amount,
    CASE totals.measure WHEN 'g' THEN days.grams - days.clearance_grams
         WHEN 'count' THEN days."count" - days.clearance_count END AS steady,
    CASE totals.other_measure WHEN 'g' THEN days.grams WHEN 'count' THEN days."count" END AS other,
    CASE totals.other_measure WHEN 'g' THEN days.grams - days.clearance_grams
         WHEN 'count' THEN days."count" - days.clearance_count END AS other_steady,
    greatest(least(totals.first_day, days."on") - 1, days."on" - coalesce(totals.gap_days, 1)) AS opens_on
FROM inside.picking_days AS days
JOIN measured_seasons AS totals USING (number, season)
