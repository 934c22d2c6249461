-- one row is: one stretch between two pickings or looks of one plant in one season, the crop ripening evenly over it
-- needs: picking_days, season_totals, usual_gaps, life_seasons
-- kept: table
-- the cumulative crop runs straight from (from_day, cumulative_from) to (to_day, cumulative_to), at the ends of days;
-- the steady_ columns leave out what was stripped in clearance, which counts in totals but in no rate
WITH measured AS (
    SELECT
        days.plant,
        days.season,
        days."on",
        totals.measure,
        totals.crop,
        CASE totals.measure WHEN 'g' THEN days.grams ELSE days."count" END AS amount,
        CASE totals.measure WHEN 'g' THEN days.grams - days.clearance_grams
             ELSE days."count" - days.clearance_count END AS steady
    FROM inside.picking_days AS days
    JOIN season_totals AS totals USING (plant, season)
    WHERE totals.measure IS NOT NULL
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
        by_season AS (PARTITION BY plant, season ORDER BY "on" ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW),
        before AS (PARTITION BY plant, season ORDER BY "on" ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING)
)

SELECT
    spaced.plant,
    spaced.season,
    spaced.measure,
    coalesce(
        spaced.previous_on,
        -- the first picking gathered what ripened over one usual gap, but no part of it before the season began
        greatest(least(seasons.first_day, spaced."on") - 1, spaced."on" - gaps.gap_days)
    ) AS from_day,
    spaced."on" AS to_day,
    coalesce(spaced.cumulative_from, 0) AS cumulative_from,
    spaced.cumulative_to,
    coalesce(spaced.steady_from, 0) AS steady_from,
    spaced.steady_to
FROM spaced
JOIN inside.life_seasons AS seasons ON seasons.plant = spaced.plant AND seasons.season = spaced.season
JOIN inside.usual_gaps AS gaps ON gaps.crop IS NOT DISTINCT FROM spaced.crop
