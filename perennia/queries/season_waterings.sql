-- one row is: one plant and season with the waterings that reached it, by its label or the bed it stood in that day
-- needs: life_seasons, plants, care_rows, entry_plants, bed_spans, place_calendar
-- kept: table
-- waterings is missing where nobody in the garden recorded a watering that season: none written is not none given;
-- depth_mm adds up depths that need no ground of the plant's own, without_depth counts those of a bed of unknown area,
-- own_litres is the plant's share of what was given to labels, over its own ground still to be spread
WITH waterings AS (
    SELECT
        record_id,
        event,
        label,
        bed,
        middle_day(on_from, on_to) AS "on",
        litres / coalesce(shared_by, 1) AS litres,
        mm
    FROM inside.care_rows
    WHERE event = 'watered'
),

reached AS (
    SELECT known.plant, waterings."on", waterings.mm AS depth_mm, waterings.litres AS own_litres
    FROM waterings
    JOIN inside.entry_plants AS known USING (record_id, event, label)
    UNION ALL
    SELECT spans.plant, waterings."on", coalesce(waterings.mm, waterings.litres / places.area_m2), NULL
    FROM waterings
    JOIN inside.bed_spans AS spans
        ON spans.bed = waterings.bed AND waterings."on" BETWEEN spans.from_day AND spans.to_day
    JOIN inside.place_calendar AS places ON places.bed = waterings.bed
),

-- water given to what was sown ahead of its season is that season's
added AS (
    SELECT
        reached.plant,
        greatest(season_year(reached."on", lives.season_starts), firsts.season) AS season,
        count(*) AS waterings,
        coalesce(sum(reached.depth_mm), 0) AS depth_mm,
        count(*) FILTER (reached.depth_mm IS NULL AND reached.own_litres IS NULL) AS without_depth,
        sum(reached.own_litres) AS own_litres
    FROM reached
    JOIN plants AS lives ON lives.plant = reached.plant
    JOIN (SELECT plant, min(season) AS season FROM inside.life_seasons GROUP BY plant) AS firsts
        ON firsts.plant = reached.plant
    GROUP BY ALL
),

watered_years AS (
    SELECT DISTINCT years.first_day
    FROM (SELECT DISTINCT first_day, last_day FROM inside.life_seasons) AS years
    JOIN waterings ON waterings."on" BETWEEN years.first_day AND years.last_day
)

SELECT
    seasons.plant,
    seasons.season,
    coalesce(added.waterings, CASE WHEN watered_years.first_day IS NOT NULL THEN 0 END) AS waterings,
    added.depth_mm,
    added.without_depth,
    added.own_litres
FROM inside.life_seasons AS seasons
LEFT JOIN added ON added.plant = seasons.plant AND added.season = seasons.season
LEFT JOIN watered_years ON watered_years.first_day = seasons.first_day
