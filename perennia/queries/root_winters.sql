-- one row is: one root and one winter that it entered, until the first that it is not known to have come through
-- grain: plant, season
-- needs: plants, life_seasons, winter_rests, life_signs, bed_spans, place_calendar, plant_counts, horizon
-- needs: crop_profiles, sites_rows
-- kept: table
-- shown: yes
-- plant: the plant, as label / year begun; a stand is one root
-- label: the grower's own name
-- season: the season the winter leads into, integer year of its first day
-- season_name: that season as a grower writes it, 2024 or 2024/25
-- crop: botanical name
-- cultivar: cultivar, missing when not recorded
-- plant_season: of the season the winter leads into, so 2 for a plant's first winter; missing when nobody knows
-- raised_from: seed, bought root, bought plant, division, cutting; missing when already here
-- wintering: place and protection, as known when the winter began, whatever came of it; unknown when nothing shows it
-- site: site of the bed
-- bed: bed in which it stood on the first day of the season, missing in store
-- container: kind of pot that bed is, missing in open soil
-- box: box or shelf it was last put in that winter, missing when none was named
-- plants: plants standing under the label when the winter began
-- plants_after: plants at the first count of the season after, missing without one
-- entered_on: day of the first act of that rest, missing for a root left where it stood
-- outcome: survived, died, not regrown (no sign of life by the latest regrowth), left (removed or divided before), open
-- last_alive_on: last day on which it was seen alive, where it is not known to have come through
-- ended_on: day it was found dead, removed or divided, where it is not known to have come through
-- regrow_by: day by which a living plant of the crop has shown itself, missing when no profile says
WITH lasting AS (
    SELECT
        lives.*,
        season_year(
            lives.began_on + CASE WHEN lives.origin = 'seed' THEN CAST(lives.sow_ahead_days AS INTEGER) ELSE 0 END,
            lives.season_starts
        ) AS first_season,
        CAST(replace(lives.season_starts, '-', '') AS INTEGER) AS starts,
        -- the profile's day is of the north; half a year later is the same time of the year in the south
        CAST(strftime(
            CAST('2001-' || crops.latest_regrowth AS DATE)
                + CASE WHEN sites.latitude < 0 THEN INTERVAL 6 MONTH ELSE INTERVAL 0 MONTH END,
            '%m%d'
        ) AS INTEGER) AS regrow_day
    FROM plants AS lives
    LEFT JOIN inside.crop_profiles AS crops ON crops.crop = profile_name(lives.crop)
    LEFT JOIN inside.sites_rows AS sites ON sites.name = lives.site
),

-- winters whose season the books have reached, and those that had only begun when they end or the root left
begun AS (
    SELECT plant, season FROM inside.life_seasons WHERE kept_root
    UNION
    SELECT winters.plant, winters.season
    FROM inside.winter_rests AS winters
    JOIN lasting ON lasting.plant = winters.plant AND winters.season > lasting.first_season
    -- what died in growth entered no winter by that
    WHERE winters.entered_on IS NOT NULL
),

dated AS (
    SELECT
        lasting.*,
        begun.season,
        season_first_day(begun.season, lasting.season_starts) AS first_day,
        growing_year_begins(
            begun.season + CAST(lasting.regrow_day < lasting.starts AS INTEGER), lasting.regrow_day
        ) AS regrow_by
    FROM begun
    JOIN lasting USING (plant)
),

-- only what was seen alive before, or put to rest, entered the winter: a sowing that nobody saw come up did not
seen AS (
    SELECT
        dated.plant,
        dated.season,
        coalesce(bool_or(
            signs.season > dated.season OR (signs.season = dated.season AND signs.regrowth)
            OR (signs.grown AND signs."on" > dated.regrow_by)
        ), false) AS survived,
        max(signs."on") AS last_alive_on
    FROM dated
    JOIN inside.life_signs AS signs ON signs.plant = dated.plant
    GROUP BY dated.plant, dated.season
    HAVING bool_or(signs."on" < dated.first_day OR (signs.resting AND signs.season = dated.season))
),

-- after a winter that it is not known to have come through, a root is not known to have entered another
entered AS (
    SELECT dated.*, seen.survived, seen.last_alive_on
    FROM dated
    JOIN seen USING (plant, season)
    QUALIFY coalesce(bool_and(seen.survived) OVER (
        PARTITION BY plant ORDER BY season ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
    ), true)
),

placed AS (
    SELECT entered.plant, entered.season, any_value(spans.bed) AS bed
    FROM entered
    JOIN inside.bed_spans AS spans
        ON spans.plant = entered.plant
        AND least(entered.first_day, entered.ended_on - 1) BETWEEN spans.from_day AND spans.to_day
    GROUP BY entered.plant, entered.season
),

counted_after AS (
    SELECT entered.plant, entered.season, min_by(counts.plants, counts.counted_on) AS plants
    FROM entered
    JOIN inside.plant_counts AS counts
        ON counts.plant = entered.plant
        AND season_year(counts.counted_on, entered.season_starts) = entered.season
    GROUP BY entered.plant, entered.season
),

before AS (
    SELECT entered.plant, entered.season, counts.plants
    FROM entered
    JOIN inside.plant_counts AS counts
        ON counts.plant = entered.plant AND entered.first_day - 1 BETWEEN counts.counted_on AND counts.holds_to
)

SELECT
    entered.plant,
    entered.label,
    entered.season,
    season_name(entered.season, entered.season_starts) AS season_name,
    entered.crop,
    entered.cultivar,
    seasons.plant_season,
    CASE WHEN entered.origin <> 'already here' THEN entered.origin END AS raised_from,
    -- not as in plant_seasons, where growth afterwards tells a root left in the ground: only survivors would show it
    wintered(
        winters.potted, winters.lifted, winters.mulched, winters.protection, placed.bed IS NOT NULL, places.container
    ) AS wintering,
    coalesce(places.site, entered.site) AS site,
    placed.bed,
    places.container,
    winters.box,
    coalesce(before.plants, entered.plants) AS plants,
    counted_after.plants AS plants_after,
    winters.entered_on,
    CASE
        WHEN entered.survived THEN 'survived'
        WHEN entered.ended_how = 'died' THEN 'died'
        WHEN entered.regrow_by < coalesce(entered.ended_on, horizon.on_to)
            AND entered.last_alive_on <= entered.regrow_by THEN 'not regrown'
        WHEN entered.ended_on IS NOT NULL THEN 'left'
        ELSE 'open'
    END AS outcome,
    CASE WHEN NOT entered.survived THEN entered.last_alive_on END AS last_alive_on,
    CASE WHEN NOT entered.survived THEN entered.ended_on END AS ended_on,
    entered.regrow_by
FROM entered
CROSS JOIN inside.horizon AS horizon
LEFT JOIN placed USING (plant, season)
LEFT JOIN inside.place_calendar AS places ON places.bed = placed.bed
LEFT JOIN inside.winter_rests AS winters ON winters.plant = entered.plant AND winters.season = entered.season
LEFT JOIN inside.life_seasons AS seasons ON seasons.plant = entered.plant AND seasons.season = entered.season
LEFT JOIN before ON before.plant = entered.plant AND before.season = entered.season
LEFT JOIN counted_after ON counted_after.plant = entered.plant AND counted_after.season = entered.season
