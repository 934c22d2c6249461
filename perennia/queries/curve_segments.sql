-- one row is: one stretch between two pickings or looks of one plant in one season, the crop ripening evenly over it
-- needs: picking_days, season_totals, crop_profiles, life_seasons
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
        sum(steady) OVER by_season AS steady_to
    FROM measured
    WINDOW by_season AS (PARTITION BY plant, season ORDER BY "on")
),

-- the first picking gathered what ripened over one usual gap: the crop's own, else the middle gap of this crop in this
-- garden, else its day alone
usual AS (
    SELECT crop, median("on" - previous_on) AS gap_days
    FROM spaced
    WHERE previous_on IS NOT NULL
    GROUP BY crop
)

SELECT
    spaced.plant,
    spaced.season,
    spaced.measure,
    coalesce(
        spaced.previous_on,
        -- but no part of it ripened before the season began
        greatest(
            least(seasons.first_day, spaced."on") - 1,
            spaced."on" - greatest(1, CAST(coalesce(profiles.usual_picking_gap_days, usual.gap_days, 1) AS INTEGER))
        )
    ) AS from_day,
    spaced."on" AS to_day,
    coalesce(lag(spaced.cumulative_to) OVER by_season, 0) AS cumulative_from,
    spaced.cumulative_to,
    coalesce(lag(spaced.steady_to) OVER by_season, 0) AS steady_from,
    spaced.steady_to
FROM spaced
JOIN inside.life_seasons AS seasons ON seasons.plant = spaced.plant AND seasons.season = spaced.season
LEFT JOIN usual ON usual.crop = spaced.crop
LEFT JOIN inside.crop_profiles AS profiles ON profiles.crop = profile_name(spaced.crop)
WINDOW by_season AS (PARTITION BY spaced.plant, spaced.season ORDER BY spaced."on")
