-- one row is: one plant and season in which it showed itself in growth, with the first and last day on which it did
-- needs: steps, plants, picked_seasons, flowering
-- kept: table
WITH signs AS (
    SELECT
        lives.plant,
        season_year(
            steps.placed_on + CASE WHEN steps.act = 'sown' THEN CAST(lives.sow_ahead_days AS INTEGER) ELSE 0 END,
            lives.season_starts
        ) AS season,
        steps.placed_on AS first_on,
        steps.placed_on AS last_on
    FROM inside.steps AS steps
    JOIN plants AS lives ON steps.label = lives.label AND steps.life = lives.life
    WHERE steps.growth AND NOT steps.refused
    UNION ALL
    SELECT plant, season, first_crop, last_crop
    FROM inside.picked_seasons
    WHERE pickings > 0
    UNION ALL
    SELECT plant, season, on_to, on_to
    FROM flowering
    WHERE plant IS NOT NULL
)

SELECT plant, season, min(first_on) AS first_growth, max(last_on) AS last_growth
FROM signs
GROUP BY plant, season
