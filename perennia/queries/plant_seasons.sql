-- one row is: one plant and season in which it was alive, or for which its root was kept (lost in the winter before)
-- grain: plant, season
-- needs: life_seasons, season_places, steps, act_ranks, plant_counts
-- kept: table
-- shown: yes
-- plant: the plant, as label / year begun
-- label: the grower's own name
-- season: integer year of the first day of the growing year
-- crop: botanical name
-- cultivar: cultivar, missing when not recorded
-- plant_season: 1 in the season the plant began, then 2, 3 ...; missing when nobody knows
-- raised_from: seed, own root, bought root, bought plant, division, cutting; missing when already here, age unknown
-- stock: fresh (first season from seed), overwintered (own root after a winter), else what it was raised from
-- wintering: place and protection of the winter before; unknown when nothing shows it, missing in a first season
-- mother: plant it was divided or cut from
-- site: site of the bed
-- bed: bed in which it stood most days up to half its crop
-- cover: cover over it on most of those days
-- container: kind of pot, missing in open soil
-- moved: whether it stood in a second bed within those days, or under another cover for a quarter of them or more
-- plants: plants standing under the label at the season's last count
-- space_m2: ground given to the label in m2 at its place that season
-- planted_on: day it was sown, planted, replanted or regrew at its place that season
-- regrew_on: first regrowth recorded that season, to within 14 days
-- started_on: day growth is counted from: sowing or planting in a first season, regrowth later; missing if not recorded
-- kept_root: whether it entered the season as a root kept over the winter
-- grew: whether it came into growth that season; missing when nothing shows it
-- ended_on: day it was found dead, removed or divided, once ended
-- ended_how: died, removed or divided
-- season_name: the season as a grower writes it, 2024 or 2024/25
-- finished: whether the season is over for the plant: ended, at rest after growth, lifted, or the next season has begun
WITH acted AS (
    SELECT
        seasons.plant,
        seasons.season,
        -- the ground given in another bed says nothing of this one
        max_by(steps.space_m2, steps.ordinal) FILTER (
            steps.space_m2 IS NOT NULL AND coalesce(steps.bed_then = places.bed, steps.bed_then IS NULL)
        ) AS space_m2,
        max(steps.placed_on) FILTER (
            (steps.planting OR steps.act = 'moved') AND steps.placed_on >= seasons.first_day - 60
                AND is_dated(steps.on_from, steps.on_to)
        ) AS set_on,
        min(steps.placed_on) FILTER (steps.planting AND is_dated(steps.on_from, steps.on_to)) AS first_planted_on,
        min(steps.placed_on) FILTER (steps.act = 'regrew' AND steps.placed_on >= seasons.first_day
            AND is_dated(steps.on_from, steps.on_to)) AS regrew_on,
        min(steps.placed_on) FILTER (steps.act = 'sown' AND is_dated(steps.on_from, steps.on_to)) AS sown_on
    FROM inside.life_seasons AS seasons
    JOIN (
        SELECT
            steps.*,
            last_value(steps.bed IGNORE NULLS) OVER (PARTITION BY label, life ORDER BY ordinal) AS bed_then,
            -- a beginning in a bed is a planting too; a sowing is its own
            steps.act IN ('planted', 'replanted') OR (ranks.beginning AND steps.bed IS NOT NULL
                AND steps.act NOT IN ('sown', 'already_here')) AS planting
        FROM inside.steps AS steps
        JOIN inside.act_ranks AS ranks USING (act)
    ) AS steps ON steps.label = seasons.label AND steps.life = seasons.life
    LEFT JOIN inside.season_places AS places ON places.plant = seasons.plant AND places.season = seasons.season
    WHERE NOT steps.refused AND steps.placed_on <= seasons.last_day
    GROUP BY seasons.plant, seasons.season
)

SELECT
    seasons.plant,
    seasons.label,
    seasons.season,
    seasons.crop,
    seasons.cultivar,
    seasons.plant_season,
    seasons.raised_from,
    seasons.stock,
    seasons.wintering,
    seasons.mother,
    coalesce(places.site, seasons.site) AS site,
    places.bed,
    places.cover,
    places.container,
    coalesce(places.moved, false) AS moved,
    coalesce(counts.plants, seasons.plants) AS plants,
    acted.space_m2,
    coalesce(
        acted.set_on,
        CASE WHEN seasons.stock = 'fresh' THEN acted.sown_on ELSE acted.regrew_on END
    ) AS planted_on,
    acted.regrew_on,
    CASE
        WHEN seasons.raised_from = 'own root' THEN acted.regrew_on
        ELSE coalesce(acted.first_planted_on, acted.sown_on)
    END AS started_on,
    seasons.kept_root,
    seasons.grew,
    seasons.ended_on,
    seasons.ended_how,
    season_name(seasons.season, seasons.season_starts) AS season_name,
    seasons.finished
FROM inside.life_seasons AS seasons
LEFT JOIN inside.season_places AS places ON places.plant = seasons.plant AND places.season = seasons.season
LEFT JOIN inside.plant_counts AS counts
    ON counts.plant = seasons.plant AND seasons.last_day BETWEEN counts.counted_on AND counts.holds_to
LEFT JOIN acted ON acted.plant = seasons.plant AND acted.season = seasons.season
