-- one row is: one sign that a plant was alive: an act on it, or what it bore
-- needs: plants, steps, rests, picked_seasons, flowering
-- kept: table
-- season is the one it belongs to, for an act at rest the one the rest leads into; regrowth: whether it shows that the
-- plant had come through the winter before that season; grown: whether it is about more than a root handled or looked at
WITH acts AS (
    SELECT
        lives.plant,
        coalesce(rests.leads_into, season_year(steps.placed_on, lives.season_starts)) AS season,
        steps.placed_on AS "on",
        rests.plant IS NOT NULL AS resting,
        steps.act,
        steps.state_before,
        lives.season_starts
    FROM inside.steps AS steps
    JOIN plants AS lives ON steps.label = lives.label AND steps.life = lives.life
    LEFT JOIN inside.rests AS rests ON rests.plant = lives.plant AND rests.ordinal = steps.ordinal
    WHERE NOT steps.refused
        -- seed is no root; whoever takes a plant out calls it alive, and is not asked how it showed
        AND steps.act NOT IN ('sown', 'died', 'removed')
        AND steps.condition IS DISTINCT FROM 'rotten'
)

SELECT
    plant, season, "on", resting,
    act = 'regrew' OR (
        act IN ('emerged', 'flowered', 'cutting_taken') AND (
            state_before IN ('dormant', 'lifted', 'stored')
            -- in growth all along it shows nothing of the winter before that is over; our own rule, as for pickings
            OR "on" >= season_first_day(season, season_starts) + 60
        )
    ) AS regrowth,
    act NOT IN ('planted', 'moved', 'replanted', 'mulched', 'stored_bare', 'stored_pot', 'store_checked') AS grown
FROM acts
UNION ALL
-- pickings that run on across the turn of the season are of the season before already
SELECT plant, season, unnest([first_crop, last_crop]), false, true, true
FROM inside.picked_seasons
WHERE pickings > 0
UNION ALL
SELECT
    flowering.plant, flowering.season, flowering.on_to, false,
    flowering.on_to >= season_first_day(flowering.season, lives.season_starts) + 60, true
FROM flowering
JOIN plants AS lives ON lives.plant = flowering.plant
