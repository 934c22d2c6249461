-- one row is: one crop with the days over which its first picking of a season ripened: one usual gap between pickings
-- needs: placed_harvest, season_totals, crop_profiles
-- kept: table
-- the crop's own by its profile, else the middle gap of this crop in this garden from five gaps on (our own rule: one
-- tuber lifted early is no usual gap), else a day; at the least a day
WITH crops AS (
    SELECT DISTINCT totals.crop, profiles.usual_picking_gap_days AS gap_days
    FROM season_totals AS totals
    LEFT JOIN inside.crop_profiles AS profiles ON profiles.crop = profile_name(totals.crop)
    WHERE totals.measure IS NOT NULL
),

-- the pickings of most gardens are not read: their crops have profiles
days AS (
    SELECT DISTINCT plant, crop, season, "on"
    FROM inside.placed_harvest
    WHERE event = 'picked' AND is_dated(on_from, on_to)
        AND coalesce(crop, '') IN (SELECT coalesce(crop, '') FROM crops WHERE gap_days IS NULL)
),

spaced AS (
    SELECT
        days.crop,
        days."on" - lag(days."on") OVER (PARTITION BY days.plant, days.season ORDER BY days."on") AS gap_days
    FROM days
    JOIN season_totals AS totals ON totals.plant = days.plant AND totals.season = days.season
    WHERE totals.measure IS NOT NULL
),

middle AS (
    SELECT crop, median(gap_days) AS gap_days
    FROM spaced
    GROUP BY crop
    HAVING count(gap_days) >= 5
)

SELECT crops.crop, greatest(1, CAST(coalesce(crops.gap_days, middle.gap_days, 1) AS INTEGER)) AS gap_days
FROM crops
LEFT JOIN middle ON middle.crop IS NOT DISTINCT FROM crops.crop
