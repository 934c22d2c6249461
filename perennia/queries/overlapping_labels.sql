-- one row is: one label whose acts could have another order among themselves (acts_overlap), or among its pickings
-- needs: label_acts, harvest_rows, flowering_rows
-- kept: view
WITH happenings AS (
    SELECT label, coalesce(on_from, DATE '0001-01-01') AS from_day, on_to AS to_day, true AS act
    FROM inside.label_acts
    UNION ALL
    SELECT label, coalesce(on_from, DATE '0001-01-01'), on_to, false FROM inside.harvest_rows WHERE label IS NOT NULL
    UNION ALL
    SELECT label, coalesce(on_from, DATE '0001-01-01'), on_to, false FROM inside.flowering_rows
),

-- how far everything before reaches, in order of the first days; pickings need no order among themselves
reach AS (
    SELECT
        label, from_day, act,
        max(to_day) OVER earlier AS all_before,
        max(to_day) FILTER (act) OVER earlier AS acts_before
    FROM happenings
    WINDOW earlier AS (
        PARTITION BY label ORDER BY from_day, to_day, act ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
    )
)

SELECT label, coalesce(bool_or(act AND from_day <= acts_before), false) AS acts_overlap
FROM reach
WHERE from_day <= CASE WHEN act THEN all_before ELSE acts_before END
GROUP BY label
