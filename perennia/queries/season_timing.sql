-- one row is: one plant and season with its first and last picking, its shares, its peak, and why any are withheld
-- needs: curve_dates, plant_numbers, season_totals, life_seasons
-- kept: table
WITH dates AS (
    SELECT numbers.plant, dates.*
    FROM inside.curve_dates AS dates
    JOIN inside.plant_numbers AS numbers USING (number)
)

SELECT
    totals.plant,
    totals.season,
    coalesce(dates.picks, 0) AS picks,
    dates.first_pick,
    dates.last_pick,
    totals.measure,
    seasons.finished,
    -- shares as the day by whose end they were in; 1e-6 of a day takes up the last bits of the sums
    CASE WHEN seasons.finished THEN dates.first_knot + CAST(ceil(dates.t10_days - 1e-6) AS INTEGER) END AS t10,
    CASE WHEN seasons.finished THEN dates.first_knot + CAST(ceil(dates.t50_days - 1e-6) AS INTEGER) END AS t50,
    CASE WHEN seasons.finished THEN dates.first_knot + CAST(ceil(dates.t90_days - 1e-6) AS INTEGER) END AS t90,
    CASE WHEN seasons.finished THEN dates.first_knot + CAST(ceil(dates.t50_days_without_clearance - 1e-6) AS INTEGER) END
        AS t50_without_clearance,
    CASE WHEN shown.peak THEN dates.peak_on END AS peak_on,
    CASE WHEN shown.peak THEN dates.peak_from END AS peak_from,
    CASE WHEN shown.peak THEN dates.peak_to END AS peak_to,
    CASE WHEN shown.peak THEN dates.peak_per_day END AS peak_per_day,
    CASE
        WHEN coalesce(dates.picks, 0) = 0
            THEN CASE WHEN totals.measure IS NOT NULL THEN 'dates and rates: no picking dated to 14 days' END
        WHEN totals.measure IS NULL THEN 'dates and rates: some pickings not weighed and some not counted'
        WHEN NOT seasons.finished THEN 'shares and peak: season still running'
        WHEN dates.steady_picks < 5 THEN 'peak: fewer than 5 pickings'
        WHEN dates.widest_gap_days > 7 THEN 'peak: a gap of more than 7 days round it'
    END AS withheld
FROM season_totals AS totals
JOIN inside.life_seasons AS seasons ON seasons.plant = totals.plant AND seasons.season = totals.season
LEFT JOIN dates ON dates.plant = totals.plant AND dates.season = totals.season
CROSS JOIN LATERAL (
    SELECT seasons.finished AND dates.steady_picks >= 5 AND dates.widest_gap_days <= 7 AS peak
) AS shown
