-- one row is: one act of one label with its place among all acts of that label, 1 for the first
-- needs: label_acts, placements
-- kept: table
WITH placed AS (
    SELECT
        acts.* EXCLUDE (plain_day),
        coalesce(placements.placed_on, acts.plain_day) AS placed_on,
        placements.placed_order
    FROM inside.label_acts AS acts
    LEFT JOIN inside.placements AS placements
        ON acts.label = placements.label AND acts.record_id = placements.record_id AND acts.act = placements.act
)

SELECT
    * EXCLUDE (placed_order),
    row_number() OVER by_label AS ordinal,
    lag(placed_on) OVER by_label AS previous_on,
    lead(placed_on) OVER by_label AS next_on
FROM placed
WINDOW by_label AS (PARTITION BY label ORDER BY placed_order NULLS FIRST, placed_on, rank, record_id)
