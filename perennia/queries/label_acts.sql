-- one row is: one life event as it bears on one label; divisions and cuttings also give a row to each new label
-- needs: life_rows, act_ranks
-- kept: view
WITH named AS (
    SELECT
        *,
        CASE event
            WHEN 'stored' THEN CASE place WHEN 'pot' THEN 'stored_pot' ELSE 'stored_bare' END
            WHEN 'died_back' THEN 'died_back_' || extent
            WHEN 'divided' THEN CASE WHEN mother_continues THEN 'divided' ELSE 'divided_ending' END
            WHEN 'acquired' THEN
                CASE WHEN kind = 'plant' THEN 'acquired_plant'
                     WHEN bed IS NULL THEN 'acquired_root'
                     ELSE 'acquired_root_set' END
            ELSE event
        END AS act,
        CAST(NULL AS VARCHAR) AS mother_label
    FROM inside.life_rows
),

daughters AS (
    SELECT
        * REPLACE (
            unnest("into") AS label,
            label AS mother_label,
            CASE WHEN event = 'cutting_taken' THEN 'cutting'
                 WHEN bed IS NULL THEN 'division'
                 ELSE 'division_set' END AS act,
            1 AS plants,
            -- the work and the money are the mother's, once
            CAST(NULL AS DOUBLE) AS minutes,
            CAST(NULL AS DOUBLE) AS cost
        )
    FROM named
    WHERE event IN ('divided', 'cutting_taken')
),

-- a mother's own row keeps her bed: the bed of a division or cutting is where the new plants went
acts AS (
    SELECT * REPLACE (CASE WHEN event IN ('divided', 'cutting_taken') THEN NULL ELSE bed END AS bed) FROM named
    UNION ALL
    SELECT * FROM daughters
)

SELECT
    acts.*,
    ranks.rank,
    ranks.growth,
    CASE WHEN ranks.opening THEN coalesce(acts.on_from, DATE '0001-01-01') ELSE acts.on_to END AS plain_day
FROM acts
JOIN inside.act_ranks AS ranks USING (act)
