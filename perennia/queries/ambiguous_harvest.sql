-- one row is: one row of harvest that its label alone does not tell the plant of: of a label that more than one plant
-- had, or none in those days, or of a bed
-- needs: harvest_rows, sole_lives
-- kept: table
SELECT rows.record_id, rows.event, rows.label, rows.on_from, rows.on_to
FROM inside.harvest_rows AS rows
ANTI JOIN inside.sole_lives AS sole
    ON sole.label = rows.label
    AND can_lie_within(rows.on_from, rows.on_to, sole.from_day, sole.to_day)
