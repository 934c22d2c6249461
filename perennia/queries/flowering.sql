-- one row is: one flower followed to its end, or one count of one truss
-- grain: record_id
-- needs: flowering_rows, entry_plants, plants
-- kept: view
-- shown: yes
-- plant: the plant, as label / year begun
-- label: the grower's own name
-- crop: botanical name
-- season: integer year of the first day of the growing year
-- event: flower_fate or truss_count
-- truss: the truss, as the grower marks it
-- position: place of the flower on the truss, 1 the lowest
-- opened_on: day the flower opened
-- set_on: day the pod or fruit was first seen
-- ended_on: day its end was seen
-- end: what became of it
-- on_from: first day the row speaks of
-- on_to: last day the row speaks of
-- opened: flowers opened so far on the truss
-- set: pods or fruits set so far
-- dropped: flowers and pods dropped so far
-- full_size: pods or fruits grown to full size so far
-- note: the grower's note
-- record_id: the record (32 hexadecimal digits)
SELECT
    lives.plant,
    label,
    lives.crop,
    CAST(season_year(rows.on_to, lives.season_starts) AS BIGINT) AS season,
    event, rows.truss, rows.position, rows.opened_on, rows.set_on, rows.ended_on, rows."end",
    rows.on_from, rows.on_to, rows.opened, rows."set", rows.dropped, rows.full_size, rows.note,
    lower(hex(rows.record_id)) AS record_id
FROM inside.flowering_rows AS rows
LEFT JOIN inside.entry_plants AS known USING (record_id, event, label)
LEFT JOIN plants AS lives ON lives.plant = known.plant
