-- one row is: one label that may have doubts: all that have any, found without telling its plants or seasons apart
-- needs: steps, state_spans, plants, crop_profiles, harvest_rows, near_crops
-- kept: view
WITH bounds AS (
    SELECT
        lives.label,
        min(profiles.grams_per_plant_day_max * lives.plants) AS likely_g,
        max(coalesce(profiles.grams_per_plant_day_max, 1000) / 1000) AS least_g
    FROM plants AS lives
    LEFT JOIN inside.crop_profiles AS profiles ON profiles.crop = profile_name(lives.crop)
    GROUP BY lives.label
)

SELECT label FROM inside.steps WHERE doubt OR crop IN (SELECT crop FROM inside.near_crops)
UNION
-- picked in the middle of a rest
SELECT spans.label
FROM inside.state_spans AS spans
JOIN inside.harvest_rows AS rows ON rows.label = spans.label
    AND rows.on_from > spans.from_day AND rows.on_to < spans.to_day
WHERE spans.state = 'dormant' AND rows.event = 'picked' AND took_crop(rows.grams, rows."count")
UNION
SELECT bounds.label
FROM inside.harvest_rows AS rows
JOIN bounds ON bounds.label = rows.label
WHERE rows.event = 'picked' AND (
    is_heavy(rows.grams / rows.shared_by, likely_g)
    OR is_light(rows.grams / rows.shared_by, rows."count" / rows.shared_by, rows.shared_by, least_g)
)
