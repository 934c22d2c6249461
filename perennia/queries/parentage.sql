-- one row is: one plant and one plant it comes from by division, cutting or seed, or may come from by seed
-- grain: plant, mother
-- needs: steps, plants, seed
-- kept: table
-- shown: yes
-- plant: the daughter or seedling, as label / year begun
-- mother: the plant it was divided or cut from, or that bore the seed
-- by: division, cutting or seed
-- lot: seed lot sown; missing for a division or cutting
-- on_from: first day on which it can have been parted from its mother, by seed the first on which seed was saved
-- on_to: last day on which it can have been parted from its mother, by seed the last on which seed was saved
-- mothers: plants it may come from, more than 1 where seed of several went into the lot
-- certain: whether it is sure to come from this mother: the only one, of which seed was saved before any was sown
WITH begun AS (
    SELECT lives.plant, lives.crop, lives.mother, steps.act, steps.lot, steps.on_from, steps.on_to
    FROM inside.steps AS steps
    JOIN plants AS lives ON lives.label = steps.label AND lives.life = steps.life
    WHERE steps.act IN ('sown', 'division', 'division_set', 'cutting') AND NOT steps.refused
),

-- a lot may be named by the year alone, and its name used again: only seed of the crop, saved by the sowing, was sown
saved AS (
    SELECT
        begun.plant,
        mother.plant AS mother,
        begun.lot,
        min(coalesce(savings.on_from, DATE '0001-01-01')) AS on_from,
        max(savings.on_to) AS on_to,
        coalesce(min(savings.on_to) <= any_value(begun.on_from), false) AS before
    FROM begun
    JOIN seed AS savings
        ON savings.lot = begun.lot
        AND savings.event = 'seed_saved'
        AND coalesce(savings.on_from, DATE '0001-01-01') <= begun.on_to
    JOIN plants AS mother
        ON mother.plant = savings.plant
        AND mother.plant <> begun.plant
        AND profile_name(mother.crop) = profile_name(begun.crop)
    WHERE begun.act = 'sown'
    GROUP BY begun.plant, mother.plant, begun.lot
)

SELECT
    plant,
    mother,
    CASE act WHEN 'cutting' THEN 'cutting' ELSE 'division' END AS "by",
    CAST(NULL AS VARCHAR) AS lot,
    on_from,
    on_to,
    CAST(1 AS BIGINT) AS mothers,
    true AS certain
FROM begun
WHERE mother IS NOT NULL
UNION ALL
SELECT
    plant,
    mother,
    'seed',
    lot,
    nullif(on_from, DATE '0001-01-01'),
    on_to,
    count(*) OVER (PARTITION BY plant),
    before AND count(*) OVER (PARTITION BY plant) = 1
FROM saved
