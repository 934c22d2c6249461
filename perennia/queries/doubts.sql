-- one row is: one thing that must have happened unrecorded, or one picking beyond what the crop's profile holds likely
-- needs: life, harvest, plants, crop_profiles, steps
-- kept: view
SELECT
    life.label, 'gap' AS kind, life.event, life.on_from, life.on_to, life.record_id, earlier.previous_id,
    CAST(NULL AS DOUBLE) AS grams, CAST(NULL AS DOUBLE) AS likely_grams
FROM life
LEFT JOIN (
    SELECT lower(hex(record_id)) AS record_id, label, doubt,
        lower(hex(lag(record_id) OVER (PARTITION BY label ORDER BY ordinal))) AS previous_id
    FROM inside.steps
) AS earlier ON earlier.record_id = life.record_id AND earlier.label = life.label
WHERE life.inferred AND coalesce(earlier.doubt, true)
UNION ALL
SELECT
    harvest.label, 'heavy', harvest.event, harvest.on_from, harvest.on_to, harvest.record_id, NULL,
    harvest.grams, profiles.grams_per_plant_day_max * lives.plants
FROM harvest
JOIN plants AS lives ON harvest.plant = lives.plant
JOIN inside.crop_profiles AS profiles ON profiles.crop = lives.crop
WHERE harvest.event = 'picked' AND harvest.grams > profiles.grams_per_plant_day_max * lives.plants
