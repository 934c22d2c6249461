-- one row is: one act of one label with the state before and after it, and what must have happened unrecorded before it
-- needs: acts_in_order, act_ranks, transitions
-- kept: table
-- life counts the lives begun under the label; a refused act (never in store, only in a batch being checked) leaves the
-- state as it is
WITH RECURSIVE walked AS (
    SELECT
        label,
        CAST(0 AS BIGINT) AS ordinal,
        'none' AS state_before,
        'none' AS state_after,
        CAST([] AS VARCHAR[]) AS inferred,
        false AS doubt,
        false AS refused,
        CAST(0 AS BIGINT) AS life
    FROM inside.acts_in_order
    WHERE ordinal = 1
    UNION ALL
    SELECT
        acts.label,
        acts.ordinal,
        walked.state_after,
        coalesce(transitions.state_after, walked.state_after),
        coalesce(transitions.inferred, []),
        coalesce(transitions.doubt, false),
        transitions.act IS NULL,
        walked.life + CASE WHEN acts.beginning AND transitions.act IS NOT NULL THEN 1 ELSE 0 END
    FROM walked
    JOIN (
        SELECT acts.label, acts.ordinal, acts.act, ranks.beginning
        FROM inside.acts_in_order AS acts
        JOIN inside.act_ranks AS ranks USING (act)
    ) AS acts ON acts.label = walked.label AND acts.ordinal = walked.ordinal + 1
    LEFT JOIN inside.transitions AS transitions
        ON transitions.act = acts.act AND transitions.state_before = walked.state_after
)

SELECT
    acts.*,
    walked.life,
    walked.state_before,
    walked.state_after,
    walked.inferred,
    walked.doubt,
    walked.refused
FROM walked
JOIN inside.acts_in_order AS acts USING (label, ordinal)
