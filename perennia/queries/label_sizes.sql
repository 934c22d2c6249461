-- one row is: one label with the size of what stands under it in the books, in rows, a long note counting as a row for
-- each 64 bytes of it; every label of a plant has one
-- needs: plants, life_rows, harvest_rows, flowering_rows, care_rows, seed_rows
-- kept: view
WITH named AS (
    -- a division has a label before it has a row of its own
    SELECT label, NULL AS note FROM plants
    UNION ALL
    SELECT label, note FROM inside.life_rows
    UNION ALL
    SELECT label, note FROM inside.harvest_rows
    UNION ALL
    SELECT label, note FROM inside.flowering_rows
    UNION ALL
    SELECT label, note FROM inside.care_rows
    UNION ALL
    SELECT label, note FROM inside.seed_rows
)

SELECT label, CAST(sum(1 + coalesce(strlen(note), 0) // 64) AS BIGINT) AS size
FROM named
WHERE label IS NOT NULL
GROUP BY label
