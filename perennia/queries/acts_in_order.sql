-- one row is: one act of one label with its place among all acts of that label, 1 for the first
-- needs: label_acts, placements
-- kept: table
SELECT
    acts.*,
    coalesce(placements.placed_on, acts.plain_day) AS placed_on,
    row_number() OVER (
        PARTITION BY acts.label
        ORDER BY
            placements.placed_order NULLS FIRST,
            coalesce(placements.placed_on, acts.plain_day), acts.rank, acts.record_id
    ) AS ordinal
FROM inside.label_acts AS acts
LEFT JOIN inside.placements AS placements
    ON acts.label = placements.label AND acts.record_id = placements.record_id AND acts.act = placements.act
