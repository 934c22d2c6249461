-- one row is: one plant and season with the crop taken from it
-- grain: plant, season
-- needs: life_seasons, picked_seasons, harvest, season_watch, crop_profiles
-- kept: table
-- shown: yes
-- plant: the plant, as label / year begun
-- label: the grower's own name
-- season: integer year of the first day of the growing year
-- crop: botanical name
-- total_g: weight of the crop in g; missing when a picking was not weighed, or nothing shows that there was no crop
-- count: number of pods, fruits, stalks; missing when one was not counted, or nothing shows that there was no crop
-- weighed_g: weight of those pickings that were weighed, in g
-- counted: number in those pickings that were counted
-- unweighed: pickings with a crop but without a weight
-- uncounted: pickings with a crop but without a count
-- looks: looks that found nothing ripe
-- watched: whether looks and complete books leave no gap in the time for a crop; missing where one was taken
-- clearance_g: part of weighed_g stripped in clearance, in g
-- clearance_count: part of counted stripped in clearance
-- shared_g: part of weighed_g that is a share of a picking off several labels, in g
-- shared_count: part of counted that is such a share
-- spans_left_out: pickings whose date is known only to more than 14 days, which no date or rate uses
-- left_for_seed: pods or fruits left hanging for seed, as far as they were counted, not part of the crop
-- left_uncounted: times that some were left for seed and nobody counted them
-- minutes: time recorded on its pickings, in minutes
-- measure: what dates and rates are measured in, g or count: the crop's own harvest unit where every picking has it
WITH seed AS (
    SELECT plant, season, sum("count") AS left_for_seed, count(*) - count("count") AS left_uncounted
    FROM harvest
    WHERE event = 'left_for_seed' AND plant IS NOT NULL
    GROUP BY plant, season
),

judged AS (
    SELECT
        seasons.plant,
        seasons.label,
        seasons.season,
        seasons.crop,
        coalesce(taken.pickings, 0) AS pickings,
        taken.weighed_g,
        taken.counted,
        coalesce(taken.unweighed, 0) AS unweighed,
        coalesce(taken.uncounted, 0) AS uncounted,
        coalesce(taken.looks, 0) AS looks,
        watch.watched,
        taken.clearance_g,
        taken.clearance_count,
        taken.shared_g,
        taken.shared_count,
        coalesce(taken.spans_left_out, 0) AS spans_left_out,
        seed.left_for_seed,
        coalesce(seed.left_uncounted, 0) AS left_uncounted,
        taken.minutes,
        coalesce(profiles.harvest_unit, 'g') AS harvest_unit
    FROM inside.life_seasons AS seasons
    LEFT JOIN inside.picked_seasons AS taken ON taken.plant = seasons.plant AND taken.season = seasons.season
    LEFT JOIN seed ON seed.plant = seasons.plant AND seed.season = seasons.season
    LEFT JOIN inside.season_watch AS watch ON watch.plant = seasons.plant AND watch.season = seasons.season
    LEFT JOIN inside.crop_profiles AS profiles ON profiles.crop = profile_name(seasons.crop)
)

SELECT
    plant,
    label,
    season,
    crop,
    CASE WHEN pickings > 0 THEN CASE WHEN unweighed = 0 THEN weighed_g END
         WHEN watched THEN 0 END AS total_g,
    CASE WHEN pickings > 0 THEN CASE WHEN uncounted = 0 THEN counted END
         WHEN watched THEN 0 END AS "count",
    weighed_g,
    counted,
    unweighed,
    uncounted,
    looks,
    watched,
    clearance_g,
    clearance_count,
    shared_g,
    shared_count,
    spans_left_out,
    left_for_seed,
    left_uncounted,
    minutes,
    CASE
        WHEN pickings = 0 THEN NULL
        WHEN harvest_unit = 'count' AND uncounted = 0 THEN 'count'
        WHEN unweighed = 0 THEN 'g'
        WHEN uncounted = 0 THEN 'count'
    END AS measure
FROM judged
