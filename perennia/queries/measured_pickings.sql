-- one row is: one label's share of a picking or look, dated to 14 days, with the crop in the measure of its season; or
-- a day on which the plant came up or grew again between two of them, which is as good as a look at a bare plant
-- needs: placed_harvest, measured_seasons, resumed_curves
-- kept: view
-- measure, amount and steady (without what was stripped in clearance, which counts in totals but in no rate) are missing
-- where not all pickings of the season were weighed, nor all counted; other and other_steady are the same in the other
-- of the two measures; opens_on is the day on whose end the curve would begin if this were the first entry: it gathered
-- what ripened over one usual gap, but no part before the season began
WITH weighed AS (
    SELECT
        rows.number,
        rows.season,
        rows."on",
        rows.cropped,
        coalesce(rows.clearance, false) AS clearance,
        seasons.measure,
        CASE seasons.measure WHEN 'g' THEN coalesce(rows.grams, 0) WHEN 'count' THEN coalesce(rows."count", 0) END AS amount,
        CASE seasons.other_measure WHEN 'g' THEN coalesce(rows.grams, 0) WHEN 'count' THEN coalesce(rows."count", 0) END
            AS other,
        greatest(least(seasons.first_day, rows."on") - 1, rows."on" - seasons.gap_days) AS opens_on
    FROM inside.placed_harvest AS rows
    JOIN inside.measured_seasons AS seasons ON seasons.number = rows.number AND seasons.season = rows.season
    WHERE rows.event = 'picked' AND is_dated(rows.on_from, rows.on_to)
)

SELECT
    number,
    season,
    "on",
    cropped,
    cropped AND NOT clearance AS picked,
    measure,
    amount,
    CASE WHEN clearance THEN amount * 0 ELSE amount END AS steady,
    other,
    CASE WHEN clearance THEN other * 0 ELSE other END AS other_steady,
    opens_on
FROM weighed
UNION ALL
SELECT
    seasons.number,
    seasons.season,
    resumed."on",
    false,
    false,
    seasons.measure,
    CASE WHEN seasons.measure IS NOT NULL THEN 0 END,
    CASE WHEN seasons.measure IS NOT NULL THEN 0 END,
    CASE WHEN seasons.other_measure IS NOT NULL THEN 0 END,
    CASE WHEN seasons.other_measure IS NOT NULL THEN 0 END,
    -- never the first of a season
    resumed."on" - 1
FROM inside.resumed_curves AS resumed
JOIN inside.measured_seasons AS seasons ON seasons.number = resumed.number AND seasons.season = resumed.season
