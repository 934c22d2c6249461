-- one row is: one label among whose acts the order is not settled by their days alone
-- needs: label_acts
-- kept: view
SELECT DISTINCT label
FROM (
    SELECT
        label,
        coalesce(on_from, DATE '0001-01-01') <= max(on_to) OVER (
            PARTITION BY label ORDER BY coalesce(on_from, DATE '0001-01-01'), on_to, record_id, rank
            ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
        ) AS unsettled
    FROM inside.label_acts
)
WHERE unsettled
