-- one row is: one stretch of days a plant stood in one bed under one cover, both days included (open: 9999-12-31)
-- needs: bed_spans, place_calendar, care_rows, entry_plants
-- kept: table
-- a cover put over a plant goes before one put over its bed; taken off, the bed's usual cover holds again;
-- of several on one day, a cover put on goes before one taken off, whatever the order of writing
WITH changes AS (
    SELECT
        rows.bed,
        known.plant,
        rows.on_to AS from_day,
        -- max_by passes over what is missing, which here is a cover taken off
        max_by(CASE event WHEN 'covered' THEN rows.cover END, rows.record_id) AS cover
    FROM inside.care_rows AS rows
    LEFT JOIN inside.entry_plants AS known USING (record_id, event, label)
    WHERE event IN ('covered', 'uncovered')
    GROUP BY rows.bed, known.plant, rows.on_to
),

points AS (
    SELECT plant, label, bed, from_day, from_day AS span_from, to_day AS span_to FROM inside.bed_spans
    UNION
    SELECT spans.plant, spans.label, spans.bed, changes.from_day, spans.from_day, spans.to_day
    FROM inside.bed_spans AS spans
    JOIN changes ON (changes.bed = spans.bed OR changes.plant = spans.plant)
        AND changes.from_day BETWEEN spans.from_day AND spans.to_day
),

covered AS (
    SELECT
        points.*,
        coalesce(of_plant.cover, of_bed.cover, places.cover) AS cover,
        places.site,
        places.container
    FROM points
    ASOF LEFT JOIN (SELECT * FROM changes WHERE plant IS NOT NULL) AS of_plant
        ON points.plant = of_plant.plant AND points.from_day >= of_plant.from_day
    ASOF LEFT JOIN (SELECT * FROM changes WHERE bed IS NOT NULL) AS of_bed
        ON points.bed = of_bed.bed AND points.from_day >= of_bed.from_day
    LEFT JOIN inside.place_calendar AS places ON points.bed = places.bed
)

SELECT
    plant, label, site, bed, cover, container, from_day,
    coalesce(lead(from_day) OVER (PARTITION BY plant, bed, span_from ORDER BY from_day) - 1, span_to) AS to_day
FROM covered
