-- one row is: one thing in the books that the grower should confirm, complete or mend
-- grain: kind, plant, event, on_from, on_to, record_id
-- needs: doubts, harvest, steps, plants, life_seasons, plant_seasons, horizon, trial_arms
-- kept: view
-- shown: yes
-- plant: the plant, as label / year begun
-- label: the grower's own name
-- kind: gap, heavy, light, twin, silent, unplaced, unchecked, allotted or crop
-- event: what is missing or in question; for a silent season emerged or regrew
-- on_from: first day on which it can have happened, or since which nothing is recorded; missing when nobody knows
-- on_to: last such day
-- record_id: the record that shows it (32 hexadecimal digits); missing for a silent season
-- grams: weight in question in g
-- likely_grams: heavy: most that the crop makes likely in g; light: least
-- crop: the crop as written that has no profile
-- near: botanical names of the profiles it may mean, with commas between
WITH twins AS (
    SELECT
        *,
        row_number() OVER (
            PARTITION BY plant, on_from, on_to, grams, "count", clearance ORDER BY record_id
        ) AS place
    FROM harvest
    WHERE event = 'picked' AND plant IS NOT NULL AND took_crop(grams, "count") AND on_from = on_to
)

SELECT plant, label, kind, event, on_from, on_to, record_id, grams, likely_grams, crop, near
FROM inside.doubts
UNION ALL
-- the same crop off the same plant on the same day, written twice
SELECT plant, label, 'twin', event, on_from, on_to, record_id, grams, NULL, NULL, NULL
FROM twins
WHERE place > 1
UNION ALL
-- a season over, of a plant that had not ended, in which nothing shows whether it grew
SELECT
    plant, label, 'silent', CASE WHEN kept_root THEN 'regrew' ELSE 'emerged' END, first_day, last_day, NULL, NULL, NULL,
    NULL, NULL
FROM inside.life_seasons
WHERE finished AND grew IS NULL
UNION ALL
-- a plant that came out of its winter in a pot, and since then stood nobody knows where
SELECT
    seasons.plant, seasons.label, 'unplaced', 'moved', lives.first_day, lives.last_day, NULL, NULL, NULL, NULL, NULL
FROM plant_seasons AS seasons
JOIN inside.life_seasons AS lives ON lives.plant = seasons.plant AND lives.season = seasons.season
WHERE seasons.grew AND seasons.bed IS NULL AND seasons.wintering LIKE 'pot%'
UNION ALL
-- our own rule: a root still in store wants a look every two months
SELECT
    lives.plant, steps.label, 'unchecked', 'store_checked', steps.placed_on, horizon.on_to,
    lower(hex(steps.record_id)), NULL, NULL, NULL, NULL
FROM inside.steps AS steps
JOIN plants AS lives ON lives.label = steps.label AND lives.life = steps.life
CROSS JOIN inside.horizon AS horizon
WHERE steps.state_after = 'stored' AND steps.next_on IS NULL AND NOT steps.refused
    AND horizon.on_to - steps.placed_on > 61
UNION ALL
-- one plant, one trial, but more than one arm or block
SELECT plant, label, 'allotted', 'allotted', on_from, on_to, record_id, NULL, NULL, NULL, NULL
FROM trial_arms
WHERE changed
