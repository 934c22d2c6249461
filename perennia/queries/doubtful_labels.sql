-- one row is: one label to look at entry by entry: all that have a contradiction or a doubt are among them
-- needs: steps, state_spans, transitions, plants, crop_profiles, harvest_rows, flowering_rows, near_crops
-- kept: view
-- a sieve for large batches: what holds of the first, last, lightest and heaviest entry of a label holds of all
WITH entries AS (
    SELECT
        label,
        min(on_to) AS first_to,
        max(coalesce(on_from, DATE '0001-01-01')) AS last_from,
        max(grams / shared_by) AS most_g,
        min(grams) FILTER (grams > 0) AS least_g
    FROM (
        SELECT label, on_from, on_to, grams, shared_by FROM inside.harvest_rows WHERE event <> 'books_kept'
        UNION ALL
        SELECT label, on_from, on_to, NULL, NULL FROM inside.flowering_rows
    )
    GROUP BY label
),

bearing AS (
    SELECT spans.label, spans.from_day, spans.to_day
    FROM inside.state_spans AS spans
    JOIN inside.transitions AS transitions ON transitions.state_before = spans.state AND transitions.act = 'picked'
),

likely AS (
    SELECT
        lives.label,
        min(profiles.grams_per_plant_day_max * lives.plants) AS likely_g,
        max(coalesce(profiles.grams_per_plant_day_max, 1000) / 1000) AS least_g
    FROM plants AS lives
    LEFT JOIN inside.crop_profiles AS profiles ON profiles.crop = profile_name(lives.crop)
    GROUP BY lives.label
)

SELECT label FROM inside.steps WHERE refused OR doubt OR crop IN (SELECT crop FROM inside.near_crops)
UNION
-- not all while the plant bore without a break
SELECT entries.label
FROM entries
ANTI JOIN bearing
    ON bearing.label = entries.label
    AND bearing.from_day <= entries.first_to
    AND bearing.to_day >= entries.last_from
UNION
-- some perhaps in the middle of a rest, from which the plant must have woken
SELECT entries.label
FROM entries
JOIN inside.state_spans AS spans
    ON spans.label = entries.label
    AND spans.from_day < entries.last_from
    AND spans.to_day > entries.first_to
WHERE spans.state = 'dormant'
UNION
SELECT entries.label
FROM entries
JOIN likely ON likely.label = entries.label
WHERE is_heavy(entries.most_g, likely.likely_g) OR is_light(entries.least_g, NULL, 1, likely.least_g)
