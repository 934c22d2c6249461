-- one row is: one entry of harvest or flowering on none of whose days its plant could bear, with its state on the last
-- needs: state_spans, transitions, harvest_rows, flowering_rows
-- kept: view
WITH entries AS (
    SELECT label, record_id, event, on_from, on_to
    FROM inside.harvest_rows
    WHERE event IN ('picked', 'left_for_seed')
    UNION ALL
    SELECT label, record_id, event, on_from, on_to
    FROM inside.flowering_rows
),

bearing AS (
    SELECT spans.label, spans.from_day, spans.to_day
    FROM inside.state_spans AS spans
    JOIN inside.transitions AS transitions ON transitions.state_before = spans.state AND transitions.act = 'picked'
),

refused AS (
    SELECT entries.*
    FROM entries
    ANTI JOIN bearing
        ON bearing.label = entries.label
        AND can_lie_within(entries.on_from, entries.on_to, bearing.from_day, bearing.to_day)
),

-- the days on which a plant came into another state; the last one of a day counts (lifted and stored on one day)
entered AS (
    SELECT label, from_day, max_by(state, ordinal) AS state
    FROM (
        SELECT *, lag(state) OVER (PARTITION BY label ORDER BY ordinal) IS DISTINCT FROM state AS changed
        FROM inside.state_spans
    )
    WHERE changed
    GROUP BY label, from_day
)

SELECT
    refused.label, refused.record_id, refused.event, refused.on_from, refused.on_to,
    coalesce(entered.state, 'none') AS state, entered.from_day AS since
FROM refused
ASOF LEFT JOIN entered
    ON refused.label = entered.label AND refused.on_to >= entered.from_day
