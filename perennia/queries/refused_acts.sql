-- one row is: one act that contradicts the state its plant was in, with that state and since when
-- needs: steps
-- kept: view
SELECT
    steps.label,
    steps.record_id,
    steps.act,
    steps.event,
    steps.on_from,
    steps.on_to,
    steps.state_before AS state,
    max(earlier.placed_on) AS since
FROM inside.steps AS steps
LEFT JOIN inside.steps AS earlier
    ON earlier.label = steps.label AND earlier.ordinal < steps.ordinal AND NOT earlier.refused
    AND earlier.state_after = steps.state_before AND earlier.state_before <> earlier.state_after
WHERE steps.refused
GROUP BY ALL
