-- one row is: one plant and season with the middle of the 7 days of its largest mean rate
-- needs: curve_segments
-- kept: table
-- the rate over 7 days is straight between days on which an end of the window meets a picking: only those are tried;
-- where several neighbouring windows tie, the middle of the first such plateau is taken
WITH candidates AS (
    SELECT DISTINCT plant, season, unnest([from_day + 4, from_day - 3, to_day + 4, to_day - 3]) AS middle
    FROM inside.curve_segments
),

ends AS (
    SELECT plant, season, middle, unnest([middle - 4, middle + 3]) AS edge
    FROM candidates
),

reached AS (
    SELECT
        ends.plant,
        ends.season,
        ends.middle,
        ends.edge,
        CASE
            WHEN segments.plant IS NULL THEN last.steady
            ELSE segments.steady_from + (segments.steady_to - segments.steady_from)
                * greatest(0, ends.edge - segments.from_day) / (segments.to_day - segments.from_day)
        END AS steady
    FROM ends
    ASOF LEFT JOIN inside.curve_segments AS segments
        ON ends.plant = segments.plant AND ends.season = segments.season AND ends.edge <= segments.to_day
    JOIN (SELECT plant, season, max(steady_to) AS steady FROM inside.curve_segments GROUP BY plant, season) AS last
        ON last.plant = ends.plant AND last.season = ends.season
),

windows AS (
    SELECT plant, season, middle, max(steady) - min(steady) AS crop
    FROM reached
    GROUP BY plant, season, middle
),

ranked AS (
    SELECT
        *,
        crop >= (1 - 1e-9) * max(crop) OVER (PARTITION BY plant, season) AS best,
        row_number() OVER (PARTITION BY plant, season ORDER BY middle) AS place
    FROM windows
),

plateaus AS (
    SELECT
        *,
        place - row_number() OVER (PARTITION BY plant, season ORDER BY middle) AS plateau
    FROM ranked
    WHERE best AND crop > 0
),

first_plateaus AS (
    SELECT plant, season, plateau, min(middle) AS first_middle, max(middle) AS last_middle, max(crop) AS crop
    FROM plateaus
    GROUP BY plant, season, plateau
    QUALIFY row_number() OVER (PARTITION BY plant, season ORDER BY plateau) = 1
)

SELECT
    peaks.plant,
    peaks.season,
    peaks.first_middle + CAST(floor((peaks.last_middle - peaks.first_middle) / 2) AS INTEGER) AS peak_on,
    peaks.first_middle - 3 AS peak_from,
    peaks.last_middle + 3 AS peak_to,
    peaks.crop / 7 AS peak_per_day,
    max(segments.to_day - segments.from_day) AS widest_gap_days
FROM first_plateaus AS peaks
JOIN inside.curve_segments AS segments
    ON segments.plant = peaks.plant AND segments.season = peaks.season
    AND segments.to_day > peaks.first_middle - 4 AND segments.from_day < peaks.last_middle + 3
GROUP BY ALL
