-- one row is: one plant with the days on which an entry under its label can be about it, both included, open 9999-12-31
-- needs: plants, state_spans, transitions
-- kept: table
-- until the day before the next plant under the label began, or its own last day where that is later;
-- bears_from and bears_to are the first and last day on which anything could be picked off it, missing when never
WITH stretches AS (
    SELECT
        lives.plant,
        lives.label,
        lives.life,
        min(spans.from_day) AS from_day,
        lives.ended_on,
        min(spans.from_day) FILTER (bearing.act IS NOT NULL) AS bears_from,
        max(spans.to_day) FILTER (bearing.act IS NOT NULL) AS bears_to
    FROM plants AS lives
    JOIN inside.state_spans AS spans ON spans.label = lives.label AND spans.life = lives.life
    LEFT JOIN inside.transitions AS bearing ON bearing.state_before = spans.state AND bearing.act = 'picked'
    GROUP BY lives.plant, lives.label, lives.life, lives.ended_on
)

SELECT
    plant,
    label,
    life,
    from_day,
    greatest(
        ended_on,
        coalesce(lead(from_day) OVER (PARTITION BY label ORDER BY life) - 1, DATE '9999-12-31')
    ) AS to_day,
    bears_from,
    bears_to
FROM stretches
