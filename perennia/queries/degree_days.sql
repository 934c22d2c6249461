-- one row is: one day at a site, or in a bed, and one crop of the garden, with that day's growing degree-days
-- grain: site, bed, crop, on
-- needs: weather, plants, crop_profiles
-- kept: view
-- shown: yes
-- site: the site; missing for a bed
-- bed: the bed, where the weather was taken in it; missing for a site
-- crop: botanical name; a crop whose profile has no base temperature has no rows
-- on: the day
-- base_c: the base temperature of the crop's profile in degrees C
-- t_min_c: lowest air temperature of the day in degrees C
-- t_max_c: highest air temperature of the day in degrees C
-- degree_days: mean of the two above the base, in degree-days, 0 where it is below it; missing unless both are known
WITH days AS (
    -- two readings of one day are of one lowest and one highest temperature
    SELECT site, bed, "on", min(t_min_c) AS t_min_c, max(t_max_c) AS t_max_c
    FROM weather
    GROUP BY site, bed, "on"
),

based AS (
    SELECT DISTINCT lives.crop, profiles.base_temperature_c AS base_c
    FROM plants AS lives
    JOIN inside.crop_profiles AS profiles ON profiles.crop = profile_name(lives.crop)
    WHERE profiles.base_temperature_c IS NOT NULL
)

SELECT
    days.site,
    days.bed,
    based.crop,
    days."on",
    based.base_c,
    days.t_min_c,
    days.t_max_c,
    -- method 1 of McMaster and Wilhelm 1997, Agricultural and Forest Meteorology 87, 291-300: the mean, not each of the
    -- two temperatures, is held to the base; greatest passes over what is missing, and would make 0 of it
    CASE WHEN days.t_min_c IS NOT NULL AND days.t_max_c IS NOT NULL
         THEN greatest(0, (days.t_min_c + days.t_max_c) / 2 - based.base_c) END AS degree_days
FROM days
CROSS JOIN based
