-- one row is: one event of a plant's life, recorded or inferred from what came before and after it
-- grain: plant, ordinal, event, inferred, record_id
-- needs: steps, plants, state_spans, harvest
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

missed AS (
    SELECT
        lives.plant, steps.label, lives.crop,
        CASE unnest(steps.inferred) WHEN 'stored_bare' THEN 'stored' ELSE unnest(steps.inferred) END AS event,
        steps.previous_on AS on_from, steps.placed_on AS on_to, steps.placed_on AS "on", steps.ordinal,
        true AS inferred, lower(hex(steps.record_id)) AS record_id
    FROM inside.steps AS steps
    JOIN plants AS lives ON steps.label = lives.label AND steps.life = lives.life
    WHERE NOT steps.refused AND len(steps.inferred) > 0
),

-- a plant at rest that was picked must have regrown in between
regrown AS (
    SELECT
        harvest.plant, harvest.label, harvest.crop, 'regrew' AS event, spans.from_day AS on_from,
        min(harvest."on") AS on_to, min(harvest."on") AS "on", spans.ordinal, true AS inferred,
        min_by(harvest.record_id, (harvest."on", harvest.record_id)) AS record_id
    FROM inside.state_spans AS spans
    JOIN harvest ON harvest.label = spans.label
        AND harvest.on_from > spans.from_day AND harvest.on_to < spans.to_day
    WHERE spans.state = 'dormant' AND harvest.event = 'picked' AND coalesce(harvest.grams, harvest."count") > 0
    GROUP BY harvest.plant, harvest.label, harvest.crop, spans.from_day, spans.ordinal
)

SELECT * FROM recorded
UNION ALL BY NAME
SELECT * FROM missed
UNION ALL BY NAME
SELECT * FROM regrown
