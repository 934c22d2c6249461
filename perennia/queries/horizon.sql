-- one row is: the latest day any record is sure to speak of (one row in all; missing in an empty garden)
-- needs: life_rows, harvest_rows, flowering_rows, care_rows, weather_rows, seed_rows
-- kept: table
WITH dated AS (
    SELECT on_from, on_to, false AS throughout FROM inside.life_rows
    UNION ALL SELECT on_from, on_to, event = 'books_kept' FROM inside.harvest_rows
    UNION ALL SELECT on_from, on_to, true FROM inside.flowering_rows WHERE event = 'flower_fate'
    UNION ALL SELECT on_from, on_to, false FROM inside.flowering_rows WHERE event <> 'flower_fate'
    UNION ALL SELECT on_from, on_to, false FROM inside.care_rows
    UNION ALL SELECT on_from, on_to, false FROM inside.weather_rows
    UNION ALL SELECT on_from, on_to, false FROM inside.seed_rows
)

-- of a half remembered day only the first it can have been is sure to have come; books and flowers last to their end
SELECT max(CASE WHEN throughout OR is_dated(on_from, on_to) THEN on_to ELSE on_from END) AS on_to
FROM dated
