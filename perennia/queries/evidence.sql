-- one row is: one day on which a plant showed itself in growth, with the season it belongs to
-- needs: steps, plants, harvest, flowering
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
WHERE event = 'picked' AND took_crop(grams, "count") AND plant IS NOT NULL
UNION ALL
SELECT plant, on_to, season, event
FROM flowering
WHERE plant IS NOT NULL
