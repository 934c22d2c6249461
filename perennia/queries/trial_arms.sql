-- one row is: one plant in one trial, with the arm it was last allotted to
-- grain: plant, trial
-- needs: care, plants
-- kept: view
-- shown: yes
-- plant: the plant, as label / year begun
-- label: the grower's own name
-- trial: the trial's name
-- arm: the arm of the trial
-- block: the block of the trial; missing where it is one block
-- by_lot: whether the plant was drawn by lot, not chosen
-- season: growing year, of the place where the plant began, in which it was allotted
-- on_from: first day on which it can have been allotted
-- on_to: last such day
-- records: how often it was allotted in this trial
-- changed: whether these named different arms or blocks
-- note: the grower's note
-- record_id: the record that counts (32 hexadecimal digits): the latest, of one day that with the greater id
WITH allotted AS (
    SELECT
        *,
        row_number() OVER (PARTITION BY plant, trial ORDER BY on_to DESC, record_id DESC) AS place,
        count(*) OVER (PARTITION BY plant, trial) AS records,
        count(DISTINCT (arm, block)) OVER (PARTITION BY plant, trial) > 1 AS changed
    FROM care
    WHERE event = 'allotted' AND plant IS NOT NULL
)

SELECT
    plant, allotted.label, allotted.trial, allotted.arm, allotted.block, allotted.by_lot,
    CAST(season_year(allotted.on_to, lives.season_starts) AS BIGINT) AS season,
    allotted.on_from, allotted.on_to, allotted.records, allotted.changed, allotted.note, allotted.record_id
FROM allotted
JOIN plants AS lives USING (plant)
WHERE allotted.place = 1
