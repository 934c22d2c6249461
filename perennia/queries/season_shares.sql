-- one row is: one plant and season with when 10, 50 and 90 % of its crop was in, as fractional days after first_knot
-- needs: curve_segments, plant_numbers
-- kept: table
WITH wholes AS (
    SELECT number, season, max(cumulative_to) AS whole, min(from_day) AS first_knot
    FROM inside.curve_segments
    GROUP BY number, season
    HAVING max(cumulative_to) > 0
),

crossed AS (
    SELECT
        segments.number,
        segments.season,
        shares.share,
        wholes.first_knot,
        min_by(
            segments.from_day - wholes.first_knot
                + greatest(0, (shares.share * wholes.whole - segments.cumulative_from)
                    / (segments.cumulative_to - segments.cumulative_from)) * (segments.to_day - segments.from_day),
            segments.to_day
        ) AS days
    FROM inside.curve_segments AS segments
    JOIN wholes USING (number, season)
    CROSS JOIN (VALUES (0.1), (0.5), (0.9)) AS shares (share)
    WHERE segments.cumulative_to > segments.cumulative_from
        -- sums of weights differ in their last bits; a share reached but for 1e-9 is reached
        AND segments.cumulative_to >= shares.share * wholes.whole * (1 - 1e-9)
    GROUP BY segments.number, segments.season, shares.share, wholes.first_knot
)

SELECT
    numbers.plant,
    crossed.season,
    crossed.first_knot,
    max(crossed.days) FILTER (share = 0.1) AS t10_days,
    max(crossed.days) FILTER (share = 0.5) AS t50_days,
    max(crossed.days) FILTER (share = 0.9) AS t90_days
FROM crossed
JOIN inside.plant_numbers AS numbers USING (number)
GROUP BY numbers.plant, crossed.season, crossed.first_knot
