-- one row is: one record of one day's weather at a site, or in a bed; a day read twice has two
-- grain: record_id
-- needs: weather_rows
-- kept: view
-- shown: yes
-- site: the site; missing for a bed
-- bed: the bed; missing for a site
-- on: the day
-- t_min_c: lowest air temperature in degrees C
-- t_max_c: highest air temperature in degrees C
-- rain_mm: rain and melted snow in mm
-- rh_pct: mean relative humidity in %
-- wind_m_s: mean wind at 2 m in m/s
-- solar_mj_m2: global solar radiation in MJ/m2
-- note: the grower's note
-- record_id: the record (32 hexadecimal digits)
SELECT
    site, bed, on_to AS "on", t_min_c, t_max_c, rain_mm, rh_pct, wind_m_s, solar_mj_m2, note,
    lower(hex(record_id)) AS record_id
FROM inside.weather_rows
