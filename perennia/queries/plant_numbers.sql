-- one row is: one plant with a number, by which large tables name it: a number is grouped and joined faster than a text
-- needs: plants
-- kept: table
-- starts is the first day of its growing year as month * 100 + day
SELECT
    plant, label, crop, began_on, ended_on, season_starts,
    CAST(row_number() OVER (ORDER BY plant) AS INTEGER) AS number,
    CAST(replace(season_starts, '-', '') AS INTEGER) AS starts
FROM plants
