-- one row is: one row of harvest with the plant it is about, the day taken, and the season it counts for
-- needs: dated_harvest, carried_pickings
-- kept: view
SELECT
    dated.*,
    CAST(dated.calendar_season - CASE WHEN carried.record_id IS NOT NULL THEN 1 ELSE 0 END AS INTEGER) AS season
FROM inside.dated_harvest AS dated
LEFT JOIN inside.carried_pickings AS carried
    ON carried.record_id = dated.record_id AND carried.label = dated.label
