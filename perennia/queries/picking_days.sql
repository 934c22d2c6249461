-- one row is: one plant, by its number, season and day on which it was picked or looked at; spans over 14 days left out
-- needs: placed_harvest
-- kept: view
SELECT
    number,
    season,
    "on",
    coalesce(sum(grams), 0) AS grams,
    coalesce(sum("count"), 0) AS "count",
    coalesce(sum(grams) FILTER (clearance), 0) AS clearance_grams,
    coalesce(sum("count") FILTER (clearance), 0) AS clearance_count,
    bool_or(cropped) AS cropped,
    bool_or(cropped AND NOT clearance) AS picked
FROM inside.placed_harvest
WHERE event = 'picked' AND number IS NOT NULL AND is_dated(on_from, on_to)
GROUP BY number, season, "on"
