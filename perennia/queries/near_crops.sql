-- one row is: one crop in the books that has no profile while the name of a profile is like it: a slip, or a common name
-- needs: steps, crop_profiles, crop_names
-- kept: view
WITH bare AS (
    SELECT DISTINCT crop, lower(profile_name(crop)) AS name
    FROM inside.steps
    WHERE crop IS NOT NULL AND profile_name(crop) NOT IN (SELECT crop FROM inside.crop_profiles)
)

SELECT bare.crop, string_agg(DISTINCT names.crop, ', ' ORDER BY names.crop) AS near
FROM bare
-- our own measure: letters put in, left out or changed are at most 15 in 100 of the longer name; the closest names of two
-- different crops that have a profile, Capsicum frutescens and C. pubescens, differ by 15.8
JOIN inside.crop_names AS names
    ON 20 * levenshtein(bare.name, names.name) <= 3 * greatest(length(bare.name), length(names.name))
GROUP BY bare.crop
