-- one row is: one day on which a plant showed itself in growth, with the season it belongs to
-- needs: steps, plants, harvest, flowering_rows
-- kept: table
SELECT
    lives.plant,
    steps.placed_on AS "on",
    season_year(
        steps.placed_on + CASE WHEN steps.act = 'sown' THEN CAST(lives.sow_ahead_days AS INTEGER) ELSE 0 END,
        lives.season_starts
    ) AS season,
    steps.act
FROM inside.steps AS steps
JOIN plants AS lives ON steps.label = lives.label AND steps.life = lives.life
WHERE steps.growth AND NOT steps.refused
UNION ALL
SELECT plant, "on", season, event
FROM harvest
WHERE event = 'picked' AND coalesce(grams, "count") > 0 AND plant IS NOT NULL
UNION ALL
SELECT lives.plant, rows.on_to, season_year(rows.on_to, lives.season_starts), rows.event
FROM inside.flowering_rows AS rows
ASOF JOIN plants AS lives ON rows.label = lives.label AND rows.on_to >= lives.began_on
