-- one row is: one label with the number of rows that stand under it in the books; every label of a plant has one
-- needs: plants, life_rows, harvest_rows, flowering_rows, care_rows, seed_rows
-- kept: view
WITH named AS (
    -- a division has a label before it has a row of its own
    SELECT label FROM plants
    UNION ALL
    SELECT label FROM inside.life_rows
    UNION ALL
    SELECT label FROM inside.harvest_rows
    UNION ALL
    SELECT label FROM inside.flowering_rows
    UNION ALL
    SELECT label FROM inside.care_rows
    UNION ALL
    SELECT label FROM inside.seed_rows
)

SELECT label, count(*) AS entries
FROM named
WHERE label IS NOT NULL
GROUP BY label
