-- one row is: one event of a plant's life, recorded or inferred from what came before and after it
-- grain: plant, ordinal, event, inferred, record_id
-- needs: steps, plants, state_spans, dated_harvest
-- kept: view
-- shown: yes
-- plant: the plant, as label / year begun
-- label: the grower's own name
-- crop: botanical name
-- event: what happened
-- on_from: first day it can have happened; missing when only the latest day is known
-- on_to: last day it can have happened
-- on: day taken for it in the order of the plant's life
-- ordinal: place in the order of all events under the label; an inferred event has the place of the one that shows it
-- inferred: true for an event nobody wrote down, within the span in which it must have happened
-- state: state of the plant after it
-- bed: bed named
-- plants: plants begun under the label
-- alive: plants counted alive
-- space_m2: ground given in m2
-- root_g: weight of the root in g
-- roots_broken: whether roots broke in lifting
-- condition: condition of the root
-- kept_because: why the root is kept
-- place: how it is stored, pot or bare root
-- protection: what keeps frost off
-- box: box or shelf
-- shoots: shoots standing
-- to_cm: height left by cutting back, in cm
-- extent: how much died back
-- cause: cause of damage or death
-- reason: why it was removed
-- into: labels of the plants begun from it
-- minutes: time spent in minutes
-- cost: money spent
-- note: the grower's note
-- record_id: the record (32 hexadecimal digits); for an inferred event the record that shows it
WITH recorded AS (
    SELECT
        lives.plant, steps.label, lives.crop, steps.event, steps.on_from, steps.on_to, steps.placed_on AS "on",
        steps.ordinal, false AS inferred, steps.state_after AS state, steps.bed,
        CASE WHEN steps.mother_label IS NULL THEN steps.plants END AS plants, steps.alive, steps.space_m2, steps.root_g,
        steps.roots_broken, steps.condition, steps.kept_because, steps.place, steps.protection, steps.box, steps.shoots,
        steps.to_cm, steps.extent, steps.cause, steps.reason, steps."into", steps.minutes, steps.cost, steps.note,
        lower(hex(steps.record_id)) AS record_id
    FROM inside.steps AS steps
    JOIN plants AS lives ON steps.label = lives.label AND steps.life = lives.life
    WHERE NOT steps.refused
),

-- not kept for both who ask it: whoever wants some labels only reads no row of the others
crops AS NOT MATERIALIZED (
    SELECT plant, label, crop, "on", on_from, on_to, lower(hex(record_id)) AS record_id
    FROM inside.dated_harvest
    WHERE cropped
),

gaps AS (
    SELECT
        lives.plant, lives.crop, steps.*, unnest(steps.inferred) AS missed,
        -- mulching or planting out what was sown says nothing of whether it is up: seed waits from its sowing on
        CASE steps.state_before WHEN 'sown' THEN first_value(steps.placed_on) OVER by_life
            ELSE steps.previous_on END AS waited_from
    FROM inside.steps AS steps
    JOIN plants AS lives ON steps.label = lives.label AND steps.life = lives.life
    WHERE NOT steps.refused
    WINDOW by_life AS (PARTITION BY steps.label, steps.life ORDER BY steps.ordinal)
),

-- what a plant bore after it was sown or at rest shows that by then it had come up
borne AS (
    SELECT gaps.plant, gaps.ordinal, min(crops.on_to) AS on_to
    FROM (SELECT DISTINCT plant, label, ordinal, waited_from, placed_on, state_before FROM gaps) AS gaps
    JOIN crops ON crops.label = gaps.label AND crops.plant = gaps.plant
        AND crops.on_from > gaps.waited_from AND crops.on_to < gaps.placed_on
    WHERE gaps.state_before IN ('sown', 'dormant')
    GROUP BY gaps.plant, gaps.ordinal
),

missed AS (
    SELECT
        plant, label, crop, CASE missed WHEN 'stored_bare' THEN 'stored' ELSE missed END AS event,
        waited_from AS on_from, shown_on AS on_to, shown_on AS "on", ordinal, true AS inferred,
        lower(hex(record_id)) AS record_id
    FROM (
        SELECT
            gaps.*,
            CASE WHEN gaps.missed IN ('emerged', 'regrew') THEN coalesce(borne.on_to, gaps.placed_on)
                ELSE gaps.placed_on END AS shown_on
        FROM gaps
        LEFT JOIN borne USING (plant, ordinal)
    )
),

-- a plant at rest that was picked must have regrown in between
regrown AS (
    SELECT
        crops.plant, crops.label, crops.crop, 'regrew' AS event, spans.from_day AS on_from,
        min(crops."on") AS on_to, min(crops."on") AS "on", spans.ordinal, true AS inferred,
        min_by(crops.record_id, (crops."on", crops.record_id)) AS record_id
    FROM inside.state_spans AS spans
    JOIN crops ON crops.label = spans.label
        AND crops.on_from > spans.from_day AND crops.on_to < spans.to_day
    LEFT JOIN inside.steps AS closing ON closing.label = spans.label AND closing.ordinal = spans.ordinal + 1
    WHERE spans.state = 'dormant' AND NOT coalesce(list_contains(closing.inferred, 'regrew'), false)
    GROUP BY crops.plant, crops.label, crops.crop, spans.from_day, spans.ordinal
)

SELECT * FROM recorded
UNION ALL BY NAME
SELECT * FROM missed
UNION ALL BY NAME
SELECT * FROM regrown
