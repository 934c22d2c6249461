-- one row is: one bed with its site, the first day of that site's growing year, and what the bed is
-- needs: beds_rows, site_calendar
-- kept: table
SELECT
    beds.name AS bed,
    beds.site,
    sites.season_starts,
    beds.cover,
    beds.container,
    beds.area_m2
FROM inside.beds_rows AS beds
LEFT JOIN inside.site_calendar AS sites ON beds.site = sites.site
