-- one row is: one lot of seed saved from a plant, or one germination test of a lot
-- grain: record_id
-- needs: seed_rows, entry_plants
-- kept: view
-- shown: yes
-- plant: mother plant, as label / year begun; missing for a test
-- label: the mother's label; missing for a test
-- lot: the seed lot
-- event: seed_saved or germination_test
-- on_from: first day it can have happened
-- on_to: last day it can have happened
-- grams: weight of clean seed in g
-- count: number of seeds
-- sown: seeds tested
-- germinated: seeds germinated
-- note: the grower's note
-- record_id: the record (32 hexadecimal digits)
SELECT
    known.plant,
    label,
    rows.lot,
    event,
    rows.on_from,
    rows.on_to,
    rows.grams,
    rows."count",
    rows.sown,
    rows.germinated,
    rows.note,
    lower(hex(rows.record_id)) AS record_id
FROM inside.seed_rows AS rows
LEFT JOIN inside.entry_plants AS known USING (record_id, event, label)
