-- one row is: one thing that must have happened unrecorded, one picking whose weight its crop does not make likely, or
-- one record that begins a plant of a crop that has no profile while one of a name like it has
-- needs: life, dated_harvest, plants, crop_profiles, steps, near_crops
-- kept: view
WITH weighed AS (
    SELECT
        dated.* REPLACE (lower(hex(dated.record_id)) AS record_id),
        -- a crop without a profile is only known to weigh more than a gram
        coalesce(profiles.grams_per_plant_day_max, 1000) / 1000 AS least_g,
        profiles.grams_per_plant_day_max * lives.plants AS likely_g
    FROM inside.dated_harvest AS dated
    JOIN plants AS lives ON dated.plant = lives.plant
    LEFT JOIN inside.crop_profiles AS profiles ON profiles.crop = profile_name(lives.crop)
    WHERE dated.event = 'picked'
)

SELECT
    life.plant, life.label, 'gap' AS kind, life.event, life.on_from, life.on_to, life.record_id, earlier.previous_id,
    CAST(NULL AS DOUBLE) AS grams, CAST(NULL AS DOUBLE) AS likely_grams,
    CAST(NULL AS VARCHAR) AS crop, CAST(NULL AS VARCHAR) AS near
FROM life
LEFT JOIN (
    SELECT lower(hex(record_id)) AS record_id, label, doubt,
        lower(hex(lag(record_id) OVER (PARTITION BY label ORDER BY ordinal))) AS previous_id
    FROM inside.steps
) AS earlier ON earlier.record_id = life.record_id AND earlier.label = life.label
WHERE life.inferred AND coalesce(earlier.doubt, true)
UNION ALL
SELECT plant, label, 'heavy', event, on_from, on_to, record_id, NULL, grams, likely_g, NULL, NULL
FROM weighed
WHERE is_heavy(grams, likely_g)
UNION ALL
SELECT plant, label, 'light', event, on_from, on_to, record_id, NULL, grams * shared_by, least_g, NULL, NULL
FROM weighed
WHERE is_light(grams, "count", shared_by, least_g)
UNION ALL
SELECT
    lives.plant, steps.label, 'crop', steps.event, steps.on_from, steps.on_to, lower(hex(steps.record_id)), NULL, NULL,
    NULL, steps.crop, near_crops.near
FROM inside.steps AS steps
JOIN plants AS lives ON lives.label = steps.label AND lives.life = steps.life
JOIN inside.near_crops AS near_crops ON near_crops.crop = steps.crop
WHERE NOT steps.refused
