-- one row is: one plant and season with its first and last picking, its shares, its peak, and why any are withheld
-- needs: picking_days, plant_numbers, season_shares, season_peaks, season_totals, life_seasons
-- kept: table
WITH added AS (
    SELECT
        number,
        season,
        count(*) FILTER (cropped) AS picks,
        count(*) FILTER (picked) AS steady_picks,
        min("on") FILTER (cropped) AS first_pick,
        max("on") FILTER (cropped) AS last_pick
    FROM inside.picking_days
    GROUP BY number, season
),

picked AS (
    SELECT numbers.plant, added.*
    FROM added
    JOIN inside.plant_numbers AS numbers USING (number)
)

SELECT
    totals.plant,
    totals.season,
    coalesce(picked.picks, 0) AS picks,
    picked.first_pick,
    picked.last_pick,
    totals.measure,
    seasons.finished,
    -- shares as the day by whose end they were in; 1e-6 of a day takes up the last bits of the sums
    CASE WHEN seasons.finished THEN shares.first_knot + CAST(ceil(shares.t10_days - 1e-6) AS INTEGER) END AS t10,
    CASE WHEN seasons.finished THEN shares.first_knot + CAST(ceil(shares.t50_days - 1e-6) AS INTEGER) END AS t50,
    CASE WHEN seasons.finished THEN shares.first_knot + CAST(ceil(shares.t90_days - 1e-6) AS INTEGER) END AS t90,
    CASE WHEN shown.peak THEN peaks.peak_on END AS peak_on,
    CASE WHEN shown.peak THEN peaks.peak_from END AS peak_from,
    CASE WHEN shown.peak THEN peaks.peak_to END AS peak_to,
    CASE WHEN shown.peak THEN peaks.peak_per_day END AS peak_per_day,
    CASE
        WHEN coalesce(picked.picks, 0) = 0
            THEN CASE WHEN totals.measure IS NOT NULL THEN 'dates and rates: no picking dated to 14 days' END
        WHEN totals.measure IS NULL THEN 'dates and rates: some pickings not weighed and some not counted'
        WHEN NOT seasons.finished THEN 'shares and peak: season still running'
        WHEN picked.steady_picks < 5 THEN 'peak: fewer than 5 pickings'
        WHEN peaks.widest_gap_days > 7 THEN 'peak: a gap of more than 7 days round it'
    END AS withheld
FROM season_totals AS totals
JOIN inside.life_seasons AS seasons ON seasons.plant = totals.plant AND seasons.season = totals.season
LEFT JOIN picked ON picked.plant = totals.plant AND picked.season = totals.season
LEFT JOIN inside.season_shares AS shares ON shares.plant = totals.plant AND shares.season = totals.season
LEFT JOIN inside.season_peaks AS peaks ON peaks.plant = totals.plant AND peaks.season = totals.season
CROSS JOIN LATERAL (
    SELECT seasons.finished AND picked.steady_picks >= 5 AND peaks.widest_gap_days <= 7 AS peak
) AS shown
