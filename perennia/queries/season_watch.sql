-- one row is: one plant and season without a crop, and whether looks and complete books leave no gap in its time
-- needs: life_seasons, plants, harvest, harvest_rows, bed_spans
-- kept: table
WITH pickings AS (
    SELECT plant, season, crop, "on", coalesce(grams, "count") > 0 AS crop_taken, on_to - on_from <= 13 AS dated
    FROM harvest
    WHERE event = 'picked' AND plant IS NOT NULL
),

crop_windows AS (
    SELECT crop, season, min("on") AS first_on, max("on") AS last_on
    FROM pickings
    WHERE crop_taken
    GROUP BY crop, season
),

-- the days that must be seen to: while anybody picked that crop, the whole season where nobody did
required AS (
    SELECT
        seasons.plant,
        seasons.season,
        seasons.grew,
        greatest(coalesce(windows.first_on, seasons.first_day), lives.began_on) AS from_day,
        least(coalesce(windows.last_on, seasons.last_day), coalesce(seasons.ended_on, seasons.last_day)) AS to_day
    FROM inside.life_seasons AS seasons
    JOIN plants AS lives USING (plant)
    ANTI JOIN (FROM pickings WHERE crop_taken) AS taken
        ON taken.plant = seasons.plant AND taken.season = seasons.season
    LEFT JOIN crop_windows AS windows ON windows.crop = seasons.crop AND windows.season = seasons.season
),

watched AS (
    SELECT
        required.plant,
        required.season,
        greatest(spans.from_day, books.on_from) AS from_day,
        least(spans.to_day, books.on_to) AS to_day
    FROM required
    JOIN inside.bed_spans AS spans ON spans.plant = required.plant
    JOIN inside.harvest_rows AS books ON books.event = 'books_kept' AND books.bed = spans.bed
    UNION ALL
    -- our own rule: a look speaks for the week before and after it
    SELECT required.plant, required.season, looks."on" - 7, looks."on" + 7
    FROM required
    JOIN pickings AS looks ON looks.plant = required.plant AND looks.season = required.season AND looks.dated
),

linked AS (
    SELECT
        watched.*,
        max(watched.to_day) OVER (
            PARTITION BY watched.plant, watched.season ORDER BY watched.from_day
            ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
        ) AS reached
    FROM watched
    JOIN required USING (plant, season)
    WHERE watched.from_day <= watched.to_day
        AND watched.from_day <= required.to_day AND watched.to_day >= required.from_day
),

seen AS (
    SELECT
        plant,
        season,
        min(from_day) AS first_day,
        max(to_day) AS last_day,
        bool_and(coalesce(from_day <= reached + 1, true)) AS without_gap
    FROM linked
    GROUP BY plant, season
)

SELECT
    required.plant,
    required.season,
    required.grew IS DISTINCT FROM false AND coalesce(
        seen.without_gap AND seen.first_day <= required.from_day AND seen.last_day >= required.to_day, false
    ) AS watched
FROM required
LEFT JOIN seen USING (plant, season)
