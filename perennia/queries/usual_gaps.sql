-- one row is: one crop with the days over which its first picking of a season ripened: one usual gap between pickings
-- needs: picking_days, plant_numbers, season_totals, crop_profiles
-- kept: table
-- the crop's own by its profile, else the middle gap of this crop in this garden, else a day; at the least a day
WITH crops AS (
    SELECT DISTINCT totals.crop, profiles.usual_picking_gap_days AS gap_days
    FROM season_totals AS totals
    LEFT JOIN inside.crop_profiles AS profiles ON profiles.crop = profile_name(totals.crop)
    WHERE totals.measure IS NOT NULL
),

spaced AS (
    SELECT
        totals.crop,
        days."on" - lag(days."on") OVER (PARTITION BY days.number, days.season ORDER BY days."on") AS gap_days
    FROM inside.picking_days AS days
    JOIN inside.plant_numbers AS numbers USING (number)
    JOIN season_totals AS totals ON totals.plant = numbers.plant AND totals.season = days.season
    JOIN crops ON crops.crop IS NOT DISTINCT FROM totals.crop AND crops.gap_days IS NULL
    WHERE totals.measure IS NOT NULL
),

middle AS (
    SELECT crop, median(gap_days) AS gap_days
    FROM spaced
    GROUP BY crop
)

SELECT crops.crop, greatest(1, CAST(coalesce(crops.gap_days, middle.gap_days, 1) AS INTEGER)) AS gap_days
FROM crops
LEFT JOIN middle ON middle.crop IS NOT DISTINCT FROM crops.crop
