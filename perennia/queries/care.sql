-- one row is: one piece of care, damage or observation, for one bed or one label
-- grain: record_id, label
-- needs: care_rows, entry_plants
-- kept: view
-- shown: yes
-- plant: the plant, as label / year begun; missing for a bed
-- label: the grower's own name; missing for a bed
-- bed: the bed; missing for labels
-- event: what was done or seen
-- on_from: first day it can have happened
-- on_to: last day it can have happened
-- shared_by: labels treated together; missing for a bed
-- litres: water given in litres, this label's share
-- mm: water given as depth in mm
-- what: what was given or seen
-- amount_g: fertiliser in g, this label's share
-- trusses: trusses pollinated by hand
-- cover: cover put on
-- watched_minutes: time visitors were watched, in minutes
-- visits: visits seen
-- robbed: flowers found robbed
-- cause: cause of damage
-- extent: share of the top growth harmed, 0 to 1
-- theta: soil water, m3 per m3
-- depth_cm: depth it was measured at, in cm
-- crop: the neighbouring crop
-- until: last day of the neighbour
-- trial: the trial the plant was allotted in
-- arm: the arm of the trial it was allotted to
-- by_lot: whether that was drawn by lot
-- block: the block of the trial
-- minutes: time spent in minutes, this label's share
-- cost: money spent, this label's share
-- note: the grower's note
-- record_id: the record (32 hexadecimal digits)
SELECT
    known.plant,
    label,
    rows.bed,
    event,
    rows.on_from,
    rows.on_to,
    rows.shared_by,
    rows.litres / coalesce(rows.shared_by, 1) AS litres,
    rows.mm, rows.what,
    rows.amount_g / coalesce(rows.shared_by, 1) AS amount_g,
    rows.trusses, rows.cover, rows.watched_minutes, rows.visits, rows.robbed, rows.cause, rows.extent,
    rows.theta, rows.depth_cm, rows.crop, rows."until",
    rows.trial, rows.arm, rows.by_lot, rows.block,
    rows.minutes / coalesce(rows.shared_by, 1) AS minutes,
    rows.cost / coalesce(rows.shared_by, 1) AS cost,
    rows.note,
    lower(hex(rows.record_id)) AS record_id
FROM inside.care_rows AS rows
LEFT JOIN inside.entry_plants AS known USING (record_id, event, label)
