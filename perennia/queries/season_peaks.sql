-- one row is: one plant and season with the middle of the 7 days of its largest mean rate
-- needs: curve_segments
-- kept: table
-- worked out by: peaks
SELECT plant, season, from_day, to_day, steady_from, steady_to
FROM inside.curve_segments
ORDER BY plant, season, to_day
