-- one row is: one bed
-- grain: bed
-- needs: beds_rows
-- kept: view
-- shown: yes
-- bed: the bed's name
-- site: the site it lies on
-- cover: what is over it as a rule
-- area_m2: cropped area in m2
-- container: kind of pot or tub; missing for open soil
-- soil: kind of soil or compost
-- note: the grower's note
-- record_id: the record (32 hexadecimal digits)
SELECT name AS bed, site, cover, area_m2, container, soil, note, lower(hex(record_id)) AS record_id
FROM inside.beds_rows
