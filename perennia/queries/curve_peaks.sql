-- one row is: one plant, by its number, and season with the middle of the 7 days of its largest mean rate
-- needs: curve_segments
-- kept: table
-- worked out by: peaks
SELECT number, season, from_day, to_day, steady_from, steady_to
FROM inside.curve_segments
ORDER BY number, season, to_day
