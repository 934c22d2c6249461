-- one row is: one plant, season and day on which it was picked or looked at; spans over 14 days are left out
-- needs: harvest
-- kept: table
SELECT
    plant,
    season,
    "on",
    coalesce(sum(grams), 0) AS grams,
    coalesce(sum("count"), 0) AS "count",
    coalesce(sum(grams) FILTER (clearance), 0) AS clearance_grams,
    coalesce(sum("count") FILTER (clearance), 0) AS clearance_count,
    bool_or(took_crop(grams, "count")) AS cropped,
    bool_or(took_crop(grams, "count") AND NOT clearance) AS picked
FROM harvest
WHERE event = 'picked' AND plant IS NOT NULL AND is_dated(on_from, on_to)
GROUP BY plant, season, "on"
