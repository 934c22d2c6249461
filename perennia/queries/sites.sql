-- one row is: one site
-- grain: site
-- needs: sites_rows, site_calendar
-- kept: view
-- shown: yes
-- site: the site's name
-- latitude: degrees, north positive
-- longitude: degrees, east positive
-- elevation_m: height above the sea in m
-- season_starts: first day of its growing year, month-day: as recorded, else by its latitude
-- note: the grower's note
-- record_id: the record (32 hexadecimal digits)
SELECT
    sites.name AS site, sites.latitude, sites.longitude, sites.elevation_m, calendar.season_starts, sites.note,
    lower(hex(sites.record_id)) AS record_id
FROM inside.sites_rows AS sites
JOIN inside.site_calendar AS calendar ON calendar.site = sites.name
