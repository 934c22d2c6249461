-- one row is: one row of harvest with the plant it is about, the day taken, and the season it counts for
-- a look, and what was left for seed, in a run of picking carried over the boundary is of the season the run is of
-- needs: dated_harvest, carried_seasons
-- kept: view
SELECT
    dated.*,
    CAST(dated.calendar_season - CASE WHEN dated."on" <= CASE WHEN dated.cropped THEN carried.last_on
                                                             ELSE carried.closes_on END THEN 1 ELSE 0 END AS INTEGER)
        AS season
FROM inside.dated_harvest AS dated
LEFT JOIN inside.carried_seasons AS carried
    ON carried.number = dated.number AND carried.calendar_season = dated.calendar_season
