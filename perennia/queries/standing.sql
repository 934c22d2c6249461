-- one row is: one plant alive where the books end, with where it stands or lies
-- grain: plant
-- needs: plants, steps, place_spans, plant_counts
-- kept: table
-- shown: yes
-- plant: the plant, as label / year begun
-- label: the grower's own name
-- crop: botanical name
-- cultivar: cultivar, missing when not recorded
-- origin: how it began: seed, already here, bought plant, bought root, division, cutting
-- lot: seed lot sown
-- plants: plants standing under the label, as last counted
-- state: sown, growing, dormant, lifted, stored (a bare root) or sheltered (in its pot), pickings aside
-- state_since: day of the act that put it in that state
-- site: site of that bed, else that of its first known bed
-- bed: bed it stands in; missing out of the ground and after it, until an act names one
-- cover: cover over it there
-- container: kind of pot, missing in open soil
-- place: how it was last put away in the rest it is in, pot or bare root
-- protection: what keeps frost off it there
-- box: box or shelf it was last put in in that rest
-- began_on: day taken for its beginning
-- season_starts: first day of its growing year, month-day
-- life: its number among the lives begun under the label, 1 for the first
WITH acts AS (
    SELECT
        lives.plant,
        steps.ordinal,
        steps.placed_on,
        steps.state_before,
        steps.state_after,
        steps.place,
        steps.protection,
        steps.box,
        max(CASE WHEN steps.state_after IN ('sown', 'growing', 'dormant') THEN steps.ordinal END)
            OVER (PARTITION BY lives.plant) AS last_standing
    FROM inside.steps AS steps
    JOIN plants AS lives ON steps.label = lives.label AND steps.life = lives.life
    WHERE NOT steps.refused AND lives.state <> 'ended'
),

rest AS (
    SELECT
        plant,
        max_by(placed_on, ordinal) FILTER (state_before <> state_after) AS state_since,
        max_by(place, ordinal) FILTER (place IS NOT NULL AND resting) AS place,
        max_by(protection, ordinal) FILTER (protection IS NOT NULL AND resting) AS protection,
        max_by(box, ordinal) FILTER (box IS NOT NULL AND resting) AS box
    FROM (SELECT *, ordinal > coalesce(last_standing, 0) AS resting FROM acts)
    GROUP BY plant
),

counts AS (
    SELECT plant, max_by(plants, counted_on) AS plants
    FROM inside.plant_counts
    GROUP BY plant
)

SELECT
    lives.plant,
    lives.label,
    lives.crop,
    lives.cultivar,
    lives.origin,
    lives.lot,
    coalesce(counts.plants, lives.plants) AS plants,
    lives.state,
    rest.state_since,
    coalesce(places.site, lives.site) AS site,
    places.bed,
    places.cover,
    places.container,
    rest.place,
    rest.protection,
    rest.box,
    lives.began_on,
    lives.season_starts,
    lives.life
FROM plants AS lives
JOIN rest USING (plant)
LEFT JOIN inside.place_spans AS places ON places.plant = lives.plant AND places.to_day = DATE '9999-12-31'
LEFT JOIN counts ON counts.plant = lives.plant
