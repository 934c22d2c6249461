-- one row is: one site with the first day of its growing year
-- needs: sites_rows
-- kept: table
SELECT
    name AS site,
    coalesce(season_starts, CASE WHEN latitude < 0 THEN '07-01' ELSE '01-01' END) AS season_starts
FROM inside.sites_rows
