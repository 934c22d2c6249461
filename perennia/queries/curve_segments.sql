-- one row is: one stretch between two pickings or looks of one plant, by its number, in one season, the crop ripening
-- evenly over it
-- needs: picking_days, plant_numbers, season_totals, usual_gaps, life_seasons
-- kept: table
-- the cumulative crop runs straight from (from_day, cumulative_from) to (to_day, cumulative_to), at the ends of days;
-- the steady_ columns leave out what was stripped in clearance, which counts in totals but in no rate
WITH measured_seasons AS (
    SELECT
        numbers.number,
        CAST(totals.season AS INTEGER) AS season,
        totals.measure,
        -- the first picking gathered what ripened over one usual gap, but no part of it before the season began
        gaps.gap_days,
        seasons.first_day
    FROM season_totals AS totals
    JOIN inside.plant_numbers AS numbers ON numbers.plant = totals.plant
    JOIN inside.life_seasons AS seasons ON seasons.plant = totals.plant AND seasons.season = totals.season
    JOIN inside.usual_gaps AS gaps ON gaps.crop IS NOT DISTINCT FROM totals.crop
    WHERE totals.measure IS NOT NULL
),

measured AS (
    SELECT
        days.number,
        days.season,
        days."on",
        totals.measure,
        totals.gap_days,
        totals.first_day,
        CASE totals.measure WHEN 'g' THEN days.grams ELSE days."count" END AS amount,
        CASE totals.measure WHEN 'g' THEN days.grams - days.clearance_grams
             ELSE days."count" - days.clearance_count END AS steady
    FROM inside.picking_days AS days
    JOIN measured_seasons AS totals USING (number, season)
),

spaced AS (
    SELECT
        *,
        lag("on") OVER by_season AS previous_on,
        sum(amount) OVER by_season AS cumulative_to,
        sum(amount) OVER before AS cumulative_from,
        sum(steady) OVER by_season AS steady_to,
        sum(steady) OVER before AS steady_from
    FROM measured
    WINDOW
        by_season AS (PARTITION BY number, season ORDER BY "on" ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW),
        before AS (PARTITION BY number, season ORDER BY "on" ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING)
)

SELECT
    number,
    season,
    measure,
    coalesce(previous_on, greatest(least(first_day, "on") - 1, "on" - gap_days)) AS from_day,
    "on" AS to_day,
    coalesce(cumulative_from, 0) AS cumulative_from,
    cumulative_to,
    coalesce(steady_from, 0) AS steady_from,
    steady_to
FROM spaced
