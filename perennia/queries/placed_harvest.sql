-- one row is: one row of harvest with the plant it is about, the day taken, and the season it counts for
-- needs: dated_harvest, carried_seasons
-- kept: view
SELECT
    dated.*,
    CAST(dated.calendar_season - CASE WHEN dated.cropped AND dated."on" <= carried.last_on THEN 1 ELSE 0 END AS INTEGER)
        AS season
FROM inside.dated_harvest AS dated
LEFT JOIN inside.carried_seasons AS carried
    ON carried.number = dated.number AND carried.calendar_season = dated.calendar_season
