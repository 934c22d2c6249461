-- one row is: one stretch of days a label spent in one state, both days included; the last stretch is open (9999-12-31)
-- needs: steps
-- kept: table
SELECT
    label,
    life,
    ordinal,
    state_after AS state,
    placed_on AS from_day,
    -- up to the next act that counts: a refused one ends nothing
    coalesce(lead(placed_on) OVER (PARTITION BY label ORDER BY ordinal), DATE '9999-12-31') AS to_day,
    act
FROM inside.steps
WHERE NOT refused
