-- one row is: one stretch of days a plant stood in one bed under one cover, both days included (open: 9999-12-31)
-- needs: bed_spans, place_calendar, care_rows
-- kept: table
-- a cover put over labels goes before one put over their bed; taken off, the bed's usual cover holds again
WITH changes AS (
    SELECT bed, label, on_to AS from_day, CASE event WHEN 'covered' THEN cover END AS cover
    FROM inside.care_rows
    WHERE event IN ('covered', 'uncovered')
),

points AS (
    SELECT plant, label, bed, from_day, from_day AS span_from, to_day AS span_to FROM inside.bed_spans
    UNION
    SELECT spans.plant, spans.label, spans.bed, changes.from_day, spans.from_day, spans.to_day
    FROM inside.bed_spans AS spans
    JOIN changes ON (changes.bed = spans.bed OR changes.label = spans.label)
        AND changes.from_day BETWEEN spans.from_day AND spans.to_day
),

covered AS (
    SELECT
        points.*,
        coalesce(of_label.cover, of_bed.cover, places.cover) AS cover,
        places.site,
        places.container
    FROM points
    ASOF LEFT JOIN (SELECT * FROM changes WHERE label IS NOT NULL) AS of_label
        ON points.label = of_label.label AND points.from_day >= of_label.from_day
    ASOF LEFT JOIN (SELECT * FROM changes WHERE bed IS NOT NULL) AS of_bed
        ON points.bed = of_bed.bed AND points.from_day >= of_bed.from_day
    LEFT JOIN inside.place_calendar AS places ON points.bed = places.bed
)

SELECT
    plant, label, site, bed, cover, container, from_day,
    coalesce(lead(from_day) OVER (PARTITION BY plant, bed, span_from ORDER BY from_day) - 1, span_to) AS to_day
FROM covered
