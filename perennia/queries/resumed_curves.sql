-- one row is: one plant, by its number, and season with a day on which a plant that was bare is on record as come up, grown
-- again or set out again, between two pickings or looks: what it gave after that day ripened since
-- needs: placed_harvest, picked_seasons, plant_numbers, plants, steps
-- kept: table
WITH acts AS (
    SELECT
        *,
        max(CASE WHEN ends_run(act) THEN ordinal END) OVER so_far AS last_stop,
        max(CASE WHEN ends_run(act) THEN placed_on END) OVER so_far AS stopped_on,
        max(CASE WHEN act IN ('emerged', 'regrew', 'replanted') THEN ordinal END) OVER before AS last_beginning
    FROM inside.steps
    WHERE NOT refused
    WINDOW
        so_far AS (PARTITION BY label ORDER BY ordinal ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW),
        before AS (PARTITION BY label ORDER BY ordinal ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING)
),

-- shoots counted on a plant that is up already are no sign that it was bare
beginnings AS (
    SELECT
        *,
        CASE WHEN last_stop > coalesce(last_beginning, 0) THEN stopped_on
             WHEN state_before <> 'growing' THEN previous_on END AS bare_since
    FROM acts
    WHERE act IN ('emerged', 'regrew', 'replanted') AND is_dated(on_from, on_to)
),

-- most are in spring, before anything was picked or looked at
shown AS (
    SELECT DISTINCT numbers.number, taken.season, beginnings.placed_on AS "on", beginnings.bare_since
    FROM beginnings
    JOIN plants AS lives ON lives.label = beginnings.label AND lives.life = beginnings.life
    JOIN inside.plant_numbers AS numbers ON numbers.plant = lives.plant
    JOIN inside.picked_seasons AS taken
        ON taken.number = numbers.number
        AND beginnings.placed_on > taken.first_visit AND beginnings.placed_on < taken.last_crop
    WHERE beginnings.bare_since IS NOT NULL
),

visits AS (
    SELECT number, season, "on", bool_or(cropped) AS cropped
    FROM inside.placed_harvest AS rows
    SEMI JOIN shown ON shown.number = rows.number AND shown.season = rows.season
    WHERE event = 'picked' AND is_dated(on_from, on_to)
    GROUP BY number, season, "on"
)

SELECT DISTINCT shown.number, shown.season, shown."on"
FROM shown
JOIN visits ON visits.number = shown.number AND visits.season = shown.season
GROUP BY shown.number, shown.season, shown."on", shown.bare_since
HAVING min(visits."on") < shown."on"
    AND max(visits."on") FILTER (visits.cropped) > shown."on"
    -- nor was one that bore in between
    AND count(*) FILTER (visits.cropped AND visits."on" > shown.bare_since AND visits."on" <= shown."on") = 0
