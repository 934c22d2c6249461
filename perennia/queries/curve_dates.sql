-- one row is: one plant, by its number, and season with its pickings, the days of its shares, and its best 7 days
-- needs: measured_pickings
-- kept: table
-- worked out by: curve_dates
SELECT number, season, "on", opens_on, cropped, picked, amount, steady
FROM inside.measured_pickings
WHERE number BETWEEN getvariable('first_number') AND getvariable('last_number')
