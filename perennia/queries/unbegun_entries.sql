-- one row is: one entry of care or seed on a label under which no plant had begun by then
-- needs: state_spans, care_rows, seed_rows
-- kept: view
WITH entries AS (
    SELECT label, record_id, event, on_from, on_to FROM inside.care_rows WHERE label IS NOT NULL
    UNION ALL
    SELECT label, record_id, event, on_from, on_to FROM inside.seed_rows WHERE label IS NOT NULL
)

SELECT entries.*, 'none' AS state, CAST(NULL AS DATE) AS since
FROM entries
ANTI JOIN inside.state_spans AS spans ON spans.label = entries.label AND spans.from_day <= entries.on_to
