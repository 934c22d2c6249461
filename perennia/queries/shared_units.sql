-- one row is: one plant and season with a shared picking, and its unit: the first plant, by name, of all those linked
-- needs: harvest
-- kept: table
WITH RECURSIVE members AS (
    SELECT DISTINCT season, record_id, plant
    FROM harvest
    -- a look at several plants that found nothing shares no crop between them
    WHERE event = 'picked' AND shared_by > 1 AND plant IS NOT NULL AND took_crop(grams, "count")
),

linked AS (
    SELECT DISTINCT own.season, own.plant, other.plant AS other
    FROM members AS own
    JOIN members AS other ON own.season = other.season AND own.record_id = other.record_id AND own.plant <> other.plant
),

units (season, plant, unit) USING KEY (season, plant) AS (
    SELECT DISTINCT season, plant, plant AS unit FROM members
    UNION
    SELECT linked.season, linked.plant, min(reached.unit)
    FROM units
    JOIN linked ON linked.season = units.season AND linked.other = units.plant
    JOIN recurring.units AS reached ON reached.season = linked.season AND reached.plant = linked.other
    JOIN recurring.units AS own ON own.season = linked.season AND own.plant = linked.plant
    WHERE reached.unit < own.unit
    GROUP BY linked.season, linked.plant
)

SELECT season, plant, unit, count(*) OVER (PARTITION BY season, unit) AS sharing
FROM units
