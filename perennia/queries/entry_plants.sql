-- one row is: one entry of harvest, flowering, care or seed on a label, with the plant it is about
-- of harvest, which has most entries, only those whose plant the label alone does not tell
-- needs: label_lives, ambiguous_harvest, flowering_rows, care_rows, seed_rows
-- kept: table
-- of several plants under one label it is about the one that could bear on most of the entry's days, the older on a tie
-- (an entry on the day an old plant was cleared and a new one sown is about the old one); where none could, the younger
WITH entries AS (
    SELECT record_id, event, label, on_from, on_to FROM inside.ambiguous_harvest WHERE label IS NOT NULL
    UNION ALL
    SELECT record_id, event, label, on_from, on_to FROM inside.flowering_rows
    UNION ALL
    SELECT record_id, event, label, on_from, on_to FROM inside.care_rows WHERE label IS NOT NULL
    UNION ALL
    SELECT record_id, event, label, on_from, on_to FROM inside.seed_rows WHERE label IS NOT NULL
),

candidates AS (
    SELECT
        entries.record_id,
        entries.event,
        entries.label,
        lives.plant,
        lives.life,
        -- least and greatest pass over what is missing, so a plant that never bears is told apart first
        CASE WHEN lives.bears_from IS NULL THEN 0 ELSE greatest(
            0, least(entries.on_to, lives.bears_to) - greatest(entries.on_from, lives.bears_from) + 1
        ) END AS bearing_days
    FROM entries
    JOIN inside.label_lives AS lives
        ON lives.label = entries.label
        AND can_lie_within(entries.on_from, entries.on_to, lives.from_day, lives.to_day)
)

SELECT
    record_id,
    event,
    label,
    max_by(plant, (bearing_days, CASE WHEN bearing_days > 0 THEN -life ELSE life END)) AS plant
FROM candidates
GROUP BY record_id, event, label
