-- one row is: one plant and season with its crop, its timing, and where and how it was grown
-- grain: plant, season
-- needs: plant_seasons, season_totals, season_timing, season_waterings, shared_units
-- needs: bed_spans, place_calendar, plant_counts, plants, plant_numbers, carried_seasons
-- kept: table
-- beside the books: whole
-- shown: yes
-- label: the grower's own name
-- season: integer year of the first day of the growing year
-- crop: botanical name
-- cultivar: cultivar, missing when not recorded
-- plant_season: 1 in the season the plant began, then 2, 3 ...; missing when nobody knows
-- raised_from: seed, own root, bought root, bought plant, division or cutting
-- stock: fresh, overwintered, else what it was raised from
-- wintering: how it spent the winter before
-- site: site of the bed
-- bed: bed in which it stood most days up to half its crop
-- cover: cover over it on most of those days
-- moved: whether it stood in a second bed within those days, or under another cover for a quarter of them or more
-- unit: the unit for statistics: the first plant of those linked by a shared picking that season, or the plant itself
-- plants: plants standing under the label at its first picking, else at the season's last count
-- total_g: weight of the crop in g, to date in a running season; missing when not all weighed or not known to be 0
-- count: number of pods, fruits, stalks, on the same terms
-- picks: days on which something was picked
-- first_pick: first such day
-- last_pick: last such day
-- t10: day by whose end 10 % of the crop was in
-- t50: day by whose end half the crop was in
-- t90: day by whose end 90 % of the crop was in
-- peak_on: middle of the 7 days with the largest mean rate
-- peak_g_per_day: mean rate over those 7 days in g a day, where the crop is measured in g
-- g_per_m2: weight of the crop over the ground given to it, or its share of the bed at first pick; missing for pots
-- finished: whether the season is over for the plant
-- plant: the plant, as label / year begun
-- season_name: the season as a grower writes it, 2024 or 2024/25
-- container: kind of pot, missing in open soil
-- space_m2: ground given to the label in m2, or its share of the bed
-- planted_on: day it was sown, planted, replanted or regrew at its place that season
-- kept_root: whether it entered the season as a root kept over the winter
-- grew: whether it came into growth that season; missing when nothing shows it
-- ended_how: died, removed or divided, once ended
-- left_for_seed: pods or fruits left hanging for seed, as far as they were counted, not part of the crop
-- left_uncounted: times that some were left for seed and nobody counted them
-- sharing: plants in the unit
-- spans_left_out: pickings dated too vaguely for any date or rate
-- unweighed: pickings with a crop but without a weight
-- shared_g: part of the weight that is a share of a picking off several labels, in g
-- shared_count: part of the count that is such a share
-- clearance_g: part of the weight that was stripped in clearance, in g; missing when none was
-- clearance_count: part of the count that was stripped in clearance
-- t50_without_clearance: day by whose end half of the crop was in, what was stripped in clearance left out
-- measure: what the dates and rates are measured in, g or count
-- peak_per_day: mean rate over the peak's 7 days in that measure
-- peak_from: first day of the peak's windows
-- peak_to: last day of the peak's windows
-- withheld: which dates or rates are withheld, and why
-- waterings: waterings that reached it, by label or bed; missing where none was recorded in the garden that season
-- watered_mm: depth of those waterings in mm, litres over the ground they went to; missing when any has no depth
-- parted: whether it has only part of a run of picking, of which 60 days of a new growing year stay with the old season
WITH first_picks AS (
    SELECT own.plant, own.season, own.bed, timing.first_pick
    FROM plant_seasons AS own
    JOIN inside.season_timing AS timing ON timing.plant = own.plant AND timing.season = own.season
    WHERE own.bed IS NOT NULL AND timing.first_pick IS NOT NULL
),

first_days AS (
    SELECT DISTINCT bed, first_pick
    FROM first_picks
),

-- mornings on which plants stood in a bed, tubers being weighed on the day they leave the ground; of one plant and bed
-- no two stretches share a morning
mornings AS (
    SELECT
        spans.bed,
        spans.plant,
        greatest(spans.from_day + 1, counts.counted_on) AS from_day,
        least(spans.to_day + 1, counts.holds_to) AS to_day,
        counts.plants
    FROM inside.bed_spans AS spans
    JOIN inside.plant_counts AS counts
        ON counts.plant = spans.plant
        AND counts.counted_on <= spans.to_day + 1 AND counts.holds_to >= spans.from_day + 1
),

-- and those found in it or first picked in it that day, which had stood there unrecorded
newcomers AS (
    SELECT spans.bed, days.first_pick, spans.plant, counts.plants
    FROM first_days AS days
    JOIN inside.bed_spans AS spans ON spans.bed = days.bed AND spans.from_day = days.first_pick
    JOIN plants AS lives ON lives.plant = spans.plant
    JOIN inside.plant_counts AS counts
        ON counts.plant = spans.plant AND days.first_pick BETWEEN counts.counted_on AND counts.holds_to
    LEFT JOIN first_picks AS own
        ON own.plant = spans.plant AND own.bed = spans.bed AND own.first_pick = days.first_pick
    ANTI JOIN mornings
        ON mornings.plant = spans.plant AND mornings.bed = spans.bed
        AND days.first_pick BETWEEN mornings.from_day AND mornings.to_day
    WHERE own.plant IS NOT NULL OR (lives.origin = 'already here' AND lives.began_on = days.first_pick)
),

-- plants in each bed from a morning on
levels AS (
    SELECT bed, "on", sum(sum(plants)) OVER (PARTITION BY bed ORDER BY "on") AS plants
    FROM (
        SELECT bed, from_day AS "on", plants FROM mornings
        UNION ALL
        SELECT bed, to_day + 1, -plants FROM mornings
    )
    GROUP BY bed, "on"
),

filled AS (
    SELECT days.bed, days.first_pick, coalesce(levels.plants, 0) + coalesce(arrived.plants, 0) AS plants
    FROM first_days AS days
    ASOF LEFT JOIN levels ON levels.bed = days.bed AND levels."on" <= days.first_pick
    LEFT JOIN (SELECT bed, first_pick, sum(plants) AS plants FROM newcomers GROUP BY bed, first_pick) AS arrived
        ON arrived.bed = days.bed AND arrived.first_pick = days.first_pick
),

-- plants standing in the bed at this plant's first picking share its area in proportion
crowded AS (
    SELECT own.plant, own.season, beds.area_m2 * coalesce(mornings.plants, newcomers.plants) / filled.plants AS share_m2
    FROM first_picks AS own
    JOIN inside.place_calendar AS beds ON beds.bed = own.bed
    JOIN filled ON filled.bed = own.bed AND filled.first_pick = own.first_pick
    LEFT JOIN mornings
        ON mornings.plant = own.plant AND mornings.bed = own.bed
        AND own.first_pick BETWEEN mornings.from_day AND mornings.to_day
    LEFT JOIN newcomers
        ON newcomers.plant = own.plant AND newcomers.bed = own.bed AND newcomers.first_pick = own.first_pick
    WHERE beds.area_m2 IS NOT NULL
),

-- both of the seasons between which a run of picking is parted
parted AS (
    SELECT DISTINCT numbers.plant, unnest([carried.calendar_season - 1, carried.calendar_season]) AS season
    FROM inside.carried_seasons AS carried
    JOIN inside.plant_numbers AS numbers USING (number)
    WHERE carried.parted
),

joined AS (
    SELECT
        seasons.* REPLACE (coalesce(counts.plants, seasons.plants) AS plants),
        totals.total_g,
        totals."count",
        timing.picks,
        timing.first_pick, timing.last_pick, timing.t10, timing.t50, timing.t90,
        timing.t50_without_clearance,
        timing.peak_on, timing.peak_from, timing.peak_to, timing.peak_per_day, timing.withheld,
        water.waterings, water.depth_mm, water.without_depth, water.own_litres,
        totals.left_for_seed, totals.left_uncounted,
        totals.spans_left_out, totals.unweighed, totals.shared_g, totals.shared_count, totals.measure,
        totals.clearance_g, totals.clearance_count,
        units.unit AS unit_plant,
        coalesce(units.sharing, 1) AS sharing,
        parted.plant IS NOT NULL AS parted,
        CASE WHEN seasons.container IS NULL THEN coalesce(seasons.space_m2, crowded.share_m2) END AS ground_m2,
        -- a plant that gave nothing has no first picking at which its share is taken: nothing off any ground is nothing
        CASE WHEN seasons.container IS NULL THEN beds.area_m2 END AS bed_m2
    FROM plant_seasons AS seasons
    JOIN season_totals AS totals ON totals.plant = seasons.plant AND totals.season = seasons.season
    JOIN inside.season_timing AS timing ON timing.plant = seasons.plant AND timing.season = seasons.season
    LEFT JOIN inside.shared_units AS units ON units.plant = seasons.plant AND units.season = seasons.season
    LEFT JOIN inside.season_waterings AS water ON water.plant = seasons.plant AND water.season = seasons.season
    LEFT JOIN inside.plant_counts AS counts
        ON counts.plant = seasons.plant AND timing.first_pick BETWEEN counts.counted_on AND counts.holds_to
    LEFT JOIN crowded ON crowded.plant = seasons.plant AND crowded.season = seasons.season
    LEFT JOIN parted ON parted.plant = seasons.plant AND parted.season = seasons.season
    LEFT JOIN inside.place_calendar AS beds ON beds.bed = seasons.bed
)

SELECT
    label, season, crop, cultivar, plant_season, raised_from, stock, wintering, site, bed, cover, moved,
    coalesce(unit_plant, plant) AS unit,
    plants, total_g, "count", picks, first_pick, last_pick, t10, t50, t90, peak_on,
    CASE WHEN measure = 'g' THEN peak_per_day END AS peak_g_per_day,
    CASE WHEN total_g = 0 AND bed_m2 IS NOT NULL THEN 0 ELSE total_g / ground_m2 END AS g_per_m2,
    finished,
    plant, season_name, container, ground_m2 AS space_m2, planted_on, kept_root, grew, ended_how, left_for_seed,
    left_uncounted, sharing, spans_left_out, unweighed, shared_g, shared_count, clearance_g, clearance_count,
    t50_without_clearance, measure, peak_per_day, peak_from, peak_to, withheld,
    waterings,
    CASE
        WHEN waterings = 0 THEN 0
        WHEN without_depth > 0 THEN NULL
        WHEN own_litres IS NULL THEN depth_mm
        ELSE depth_mm + own_litres / ground_m2
    END AS watered_mm,
    parted
FROM joined
