-- one row is: one stretch between two pickings or looks of one plant, by its number, in one season, the crop ripening
-- evenly over it
-- needs: measured_days
-- kept: view
-- the cumulative crop runs straight from (from_day, cumulative_from) to (to_day, cumulative_to), at the ends of days;
-- the steady_ columns leave out what was stripped in clearance;
-- the other_ columns are the same in the other of the two measures, g or count, missing where a picking lacks it
SELECT
    number,
    season,
    measure,
    coalesce(lag("on") OVER by_season, opens_on) AS from_day,
    "on" AS to_day,
    coalesce(sum(amount) OVER before, 0) AS cumulative_from,
    sum(amount) OVER by_season AS cumulative_to,
    coalesce(sum(steady) OVER before, 0) AS steady_from,
    sum(steady) OVER by_season AS steady_to,
    CASE WHEN other IS NOT NULL THEN coalesce(sum(other) OVER before, 0) END AS other_from,
    sum(other) OVER by_season AS other_to,
    CASE WHEN other IS NOT NULL THEN coalesce(sum(other_steady) OVER before, 0) END AS other_steady_from,
    sum(other_steady) OVER by_season AS other_steady_to
FROM inside.measured_days
WHERE measure IS NOT NULL
WINDOW
    by_season AS (PARTITION BY number, season ORDER BY "on" ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW),
    before AS (PARTITION BY number, season ORDER BY "on" ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING)
