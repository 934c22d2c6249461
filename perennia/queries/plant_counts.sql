-- one row is: one plant and stretch of days, both included, in which a number of plants stood under its label, from its
-- beginning or a count up to the next (open: 9999-12-31)
-- needs: steps, act_ranks, plants
-- kept: table
SELECT
    lives.plant,
    steps.placed_on AS counted_on,
    coalesce(lead(steps.placed_on) OVER (PARTITION BY lives.plant ORDER BY steps.placed_on) - 1, DATE '9999-12-31')
        AS holds_to,
    CAST(max_by(coalesce(steps.alive, steps.plants), steps.ordinal) AS BIGINT) AS plants
FROM inside.steps AS steps
JOIN plants AS lives ON lives.label = steps.label AND lives.life = steps.life
JOIN inside.act_ranks AS ranks USING (act)
WHERE NOT steps.refused
    AND (steps.act IN ('counted', 'emerged') AND steps.alive > 0 OR ranks.beginning AND steps.plants IS NOT NULL)
GROUP BY lives.plant, steps.placed_on
