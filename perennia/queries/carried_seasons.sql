-- one row is: one plant, by its number, and growing year early in which pickings are still of the season before, for it
-- was picked without a break across the boundary, with the last day of them, the last on which a look or what is left for
-- seed is still of the run (until nothing that was picked would be), and whether the run is parted: it went on past the
-- days in which it can be of the season before, so that the rest of it counts for this growing year
-- needs: dated_harvest, steps, crop_profiles
-- kept: table
-- most gardens have none: the runs are only followed of plants that were picked in the first 60 days of a growing year
WITH early AS (
    SELECT DISTINCT number
    FROM inside.dated_harvest
    WHERE is_early("on", starts) AND cropped
),

-- acts that end a run of picking, numbered, so that two pickings with one between them get different numbers
breaks AS (
    SELECT label, placed_on, row_number() OVER (PARTITION BY label ORDER BY ordinal) AS number
    FROM inside.steps
    WHERE ends_run(act)
),

linked AS (
    SELECT
        dated.number,
        dated.label,
        dated."on",
        dated.calendar_season,
        is_early(dated."on", dated.starts) AS early,
        coalesce(breaks.number, 0) AS break_number,
        unbroken_days(profiles.usual_picking_gap_days) AS longest_gap_days,
        growing_year_begins(dated.calendar_season, dated.starts) + 59 AS last_early_on
    FROM inside.dated_harvest AS dated
    SEMI JOIN early ON early.number = dated.number
    LEFT JOIN inside.crop_profiles AS profiles ON profiles.crop = profile_name(dated.crop)
    ASOF LEFT JOIN breaks ON dated.label = breaks.label AND dated."on" > breaks.placed_on
    WHERE dated.cropped
),

runs AS (
    SELECT
        *,
        NOT coalesce(
            lag(break_number) OVER by_plant = break_number
            AND "on" - lag("on") OVER by_plant <= longest_gap_days, false
        ) AS broken
    FROM linked
    WINDOW by_plant AS (PARTITION BY number ORDER BY "on")
),

unbroken AS (
    SELECT number, label, calendar_season, "on", early, longest_gap_days, last_early_on
    FROM runs
    -- pickings of one day are taken together: which of them the break was noted at is chance
    QUALIFY sum(CAST(broken AS INTEGER)) OVER (PARTITION BY number, calendar_season ORDER BY "on") = 0
),

carried AS (
    SELECT
        number,
        any_value(label) AS label,
        calendar_season,
        max("on") FILTER (early) AS last_on,
        CASE WHEN bool_or(NOT early) THEN max("on") FILTER (early)
             ELSE least(max("on") + CAST(max(longest_gap_days) AS INTEGER), max(last_early_on)) END AS closes_on,
        bool_or(NOT early) AS parted
    FROM unbroken
    GROUP BY number, calendar_season
    HAVING bool_or(early)
)

SELECT
    carried.number,
    carried.calendar_season,
    carried.last_on,
    least(carried.closes_on, min(breaks.placed_on)) AS closes_on,
    carried.parted
FROM carried
LEFT JOIN breaks ON breaks.label = carried.label AND breaks.placed_on >= carried.last_on
GROUP BY carried.number, carried.calendar_season, carried.last_on, carried.closes_on, carried.parted
