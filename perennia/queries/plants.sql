-- one row is: one plant, that is one life of a label (a stand of several plants is one)
-- grain: plant
-- needs: steps, place_calendar, harvest_rows, flowering_rows, crop_profiles, site_calendar
-- kept: table
-- shown: yes
-- plant: address of the plant, label / year begun, with .2 added for a second life begun in the same year
-- label: the grower's own name, unique among living plants
-- crop: botanical name
-- cultivar: cultivar, missing when not recorded
-- origin: how it began: seed, already here, bought plant, bought root, division, cutting
-- mother: plant it was divided or cut from
-- lot: seed lot sown
-- plants: plants begun under the label, more than 1 for a stand
-- began_from: first day on which it can have begun in these books
-- began_on: day taken for its beginning in these books
-- ended_on: day it was found dead, removed or divided up; missing while alive
-- ended_how: died, removed or divided
-- state: where its recorded life stands now, pickings aside: sown, growing, dormant, lifted, stored, sheltered or ended
-- site: site of its first known bed, else its mother's, or the garden's only site
-- season_starts: first day of its growing year, month-day
-- sow_ahead_days: days before that on which a sowing already counts for the coming season
-- given_plant_season: season of life given by the grower for the season the entry was made
-- since_from: first day on which a plant already here can have begun
-- since_to: last day on which a plant already here can have begun
-- life: its number among the lives begun under the label, 1 for the first
WITH lives AS (
    SELECT
        label,
        life,
        min_by(crop, ordinal) AS crop,
        min_by(cultivar, ordinal) AS cultivar,
        min_by(act, ordinal) AS first_act,
        min_by(mother_label, ordinal) AS mother_label,
        min_by(record_id, ordinal) AS first_record,
        min_by(lot, ordinal) AS lot,
        min_by(plants, ordinal) AS plants,
        arg_min_null(on_from, ordinal) AS began_from,
        min_by(on_to, ordinal) AS began_to,
        min_by(placed_on, ordinal) AS placed_on,
        min(placed_on) FILTER (placed_on >= DATE '1900-01-01') AS next_act_on,
        min_by(plant_season, ordinal) AS given_plant_season,
        min_by(since_from, ordinal) AS since_from,
        min_by(since_to, ordinal) AS since_to,
        min_by(bed, ordinal) FILTER (bed IS NOT NULL) AS first_bed,
        min(ordinal) AS first_ordinal,
        max_by(state_after, ordinal) AS state,
        max_by(act, ordinal) FILTER (state_after = 'ended') AS last_act,
        max(placed_on) FILTER (state_after = 'ended') AS ended_on
    FROM inside.steps
    WHERE NOT refused AND life > 0
    GROUP BY label, life
),

addressed AS (
    SELECT
        *,
        -- a beginning with an open start is taken on its last day, or on that of the first entry that shows the plant
        CASE WHEN placed_on < DATE '1900-01-01' THEN least(began_to, next_act_on, borne.first_on) ELSE placed_on END
            AS began_on
    FROM lives
    LEFT JOIN (
        SELECT label, min(on_to) AS first_on
        FROM (SELECT label, on_to FROM inside.harvest_rows UNION ALL SELECT label, on_to FROM inside.flowering_rows)
        WHERE label IN (SELECT label FROM lives WHERE placed_on < DATE '1900-01-01')
        GROUP BY label
    ) AS borne USING (label)
),

numbered AS (
    SELECT
        addressed.*,
        places.site AS own_site,
        places.season_starts AS own_starts,
        label || '/' || CAST(year(began_on) AS VARCHAR)
            || CASE WHEN row_number() OVER same_year = 1 THEN ''
                    ELSE '.' || CAST(row_number() OVER same_year AS VARCHAR) END AS plant
    FROM addressed
    LEFT JOIN inside.place_calendar AS places ON addressed.first_bed = places.bed
    WINDOW same_year AS (PARTITION BY label, year(began_on) ORDER BY life)
),

-- the life of the mother in which a division or cutting was made is the one its record stands in
partings AS (
    SELECT label, life, record_id
    FROM inside.steps
    WHERE act IN ('divided', 'divided_ending', 'cutting_taken') AND NOT refused
),

-- a division or cutting is of its mother's crop and cultivar, however many generations back they were named, and at her
-- site until it is set in a bed of its own
named AS (
    WITH RECURSIVE lineage AS (
        SELECT
            plant, label, life, crop, cultivar, CAST(NULL AS VARCHAR) AS mother, own_site AS site, own_starts AS starts
        FROM numbered
        WHERE mother_label IS NULL
        UNION ALL
        SELECT
            daughter.plant, daughter.label, daughter.life, mother.crop, mother.cultivar, mother.plant,
            coalesce(daughter.own_site, mother.site), coalesce(daughter.own_starts, mother.starts)
        FROM numbered AS daughter
        JOIN partings
            ON partings.label = daughter.mother_label AND partings.record_id = daughter.first_record
        JOIN lineage AS mother ON mother.label = partings.label AND mother.life = partings.life
    )
    SELECT * FROM lineage
)

SELECT
    numbered.plant,
    numbered.label,
    named.crop,
    named.cultivar,
    CASE numbered.first_act
        WHEN 'sown' THEN 'seed'
        WHEN 'already_here' THEN 'already here'
        WHEN 'acquired_plant' THEN 'bought plant'
        WHEN 'acquired_root' THEN 'bought root'
        WHEN 'acquired_root_set' THEN 'bought root'
        WHEN 'division' THEN 'division'
        WHEN 'division_set' THEN 'division'
        ELSE 'cutting'
    END AS origin,
    named.mother,
    numbered.lot,
    CAST(coalesce(numbered.plants, 1) AS BIGINT) AS plants,
    numbered.began_from,
    numbered.began_on,
    numbered.ended_on,
    CASE numbered.last_act
        WHEN 'died' THEN 'died'
        WHEN 'removed' THEN 'removed'
        WHEN 'divided_ending' THEN 'divided'
    END AS ended_how,
    numbered.state,
    coalesce(named.site, only_site.site) AS site,
    coalesce(
        (SELECT season_starts FROM inside.crop_profiles WHERE crop = profile_name(named.crop)),
        named.starts, only_site.season_starts, '01-01'
    ) AS season_starts,
    coalesce(
        (SELECT sow_ahead_days FROM inside.crop_profiles WHERE crop = profile_name(named.crop)), 0
    ) AS sow_ahead_days,
    numbered.given_plant_season,
    numbered.since_from,
    numbered.since_to,
    numbered.life
FROM numbered
JOIN named ON numbered.plant = named.plant
LEFT JOIN (
    SELECT any_value(site) AS site, any_value(season_starts) AS season_starts
    FROM inside.site_calendar
    HAVING count(*) = 1
) AS only_site ON true
