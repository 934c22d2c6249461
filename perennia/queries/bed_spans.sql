-- one row is: one stretch of days a plant stood in one bed (none out of the ground), both included, open 9999-12-31
-- needs: steps, plants
-- kept: table
WITH located AS (
    SELECT
        lives.plant,
        lives.label,
        steps.placed_on,
        steps.next_on,
        steps.ordinal,
        steps.state_after,
        last_value(steps.bed IGNORE NULLS) OVER (
            PARTITION BY lives.plant ORDER BY steps.ordinal ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS bed,
        max(CASE WHEN steps.bed IS NOT NULL THEN steps.ordinal END)
            OVER (PARTITION BY lives.plant ORDER BY steps.ordinal) AS last_bed,
        -- after leaving the ground the place is unknown until a bed is named again; nobody guesses the old one
        max(CASE WHEN steps.act IN ('stored_pot', 'lifted', 'stored_bare', 'store_checked') THEN steps.ordinal END)
            OVER (PARTITION BY lives.plant ORDER BY steps.ordinal) AS last_away
    FROM inside.steps AS steps
    JOIN plants AS lives ON steps.label = lives.label AND steps.life = lives.life
    WHERE NOT steps.refused
)

SELECT
    plant,
    label,
    bed,
    state_after AS state,
    placed_on AS from_day,
    coalesce(next_on - 1, DATE '9999-12-31') AS to_day
FROM located
WHERE bed IS NOT NULL
    AND state_after IN ('sown', 'growing', 'dormant')
    AND last_bed > coalesce(last_away, 0)
    AND coalesce(next_on - 1, DATE '9999-12-31') >= placed_on
