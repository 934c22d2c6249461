-- one row is: the latest day any record speaks of (one row in all; missing in an empty garden)
-- needs: life_rows, harvest_rows, flowering_rows, care_rows, weather_rows, seed_rows
-- kept: table
SELECT max(on_to) AS on_to
FROM (
    SELECT max(on_to) AS on_to FROM inside.life_rows
    UNION ALL SELECT max(on_to) FROM inside.harvest_rows
    UNION ALL SELECT max(on_to) FROM inside.flowering_rows
    UNION ALL SELECT max(on_to) FROM inside.care_rows
    UNION ALL SELECT max(on_to) FROM inside.weather_rows
    UNION ALL SELECT max(on_to) FROM inside.seed_rows
)
