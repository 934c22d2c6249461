-- one row is: one plant and season without a crop, and whether looks and complete books leave no gap in its time
-- needs: life_seasons, picked_seasons, placed_harvest, harvest_rows, bed_spans, state_spans
-- kept: table
WITH crop_windows AS (
    SELECT taken.crop, taken.season, seasons.site, min(taken.first_crop) AS first_on, max(taken.last_crop) AS last_on
    FROM inside.picked_seasons AS taken
    JOIN inside.life_seasons AS seasons ON seasons.plant = taken.plant AND seasons.season = taken.season
    WHERE taken.pickings > 0
    GROUP BY taken.crop, taken.season, seasons.site
),

wanted AS (
    SELECT
        seasons.plant, seasons.label, seasons.life, seasons.season, seasons.grew, seasons.first_day, seasons.last_day,
        coalesce(windows.first_on, seasons.first_day) AS opens_on,
        coalesce(windows.last_on, seasons.last_day) AS closes_on
    FROM inside.life_seasons AS seasons
    ANTI JOIN (FROM inside.picked_seasons WHERE pickings > 0) AS taken
        ON taken.plant = seasons.plant AND taken.season = seasons.season
    LEFT JOIN crop_windows AS windows ON windows.crop = seasons.crop AND windows.season = seasons.season
        AND windows.site IS NOT DISTINCT FROM seasons.site
),

-- the stretches of a season in which a plant could bear: not in store, nor after its end; at rest in the ground it can, for
-- tubers are dug when the tops are dead
bearing AS (
    SELECT
        wanted.plant,
        wanted.season,
        wanted.opens_on,
        wanted.closes_on,
        greatest(spans.from_day, wanted.first_day) AS from_day,
        least(spans.to_day - 1, wanted.last_day) AS to_day
    FROM wanted
    JOIN inside.state_spans AS spans ON spans.label = wanted.label AND spans.life = wanted.life
    WHERE spans.state IN ('sown', 'growing', 'dormant', 'sheltered')
        AND spans.from_day <= wanted.last_day AND spans.to_day - 1 >= wanted.first_day AND spans.to_day > spans.from_day
),

-- the days that must be seen to: those of them in the window; all, for a plant that was never there in the window
required AS (
    SELECT
        plant,
        season,
        CASE WHEN within THEN greatest(from_day, opens_on) ELSE from_day END AS from_day,
        CASE WHEN within THEN least(to_day, closes_on) ELSE to_day END AS to_day
    FROM (
        SELECT *, bool_or(from_day <= closes_on AND to_day >= opens_on) OVER (PARTITION BY plant, season) AS within
        FROM bearing
    )
    WHERE NOT within OR (from_day <= closes_on AND to_day >= opens_on)
),

watched AS (
    SELECT
        wanted.plant,
        wanted.season,
        greatest(spans.from_day, books.on_from) AS from_day,
        least(spans.to_day, books.on_to) AS to_day
    FROM wanted
    JOIN inside.bed_spans AS spans ON spans.plant = wanted.plant
    JOIN inside.harvest_rows AS books ON books.event = 'books_kept' AND books.bed = spans.bed
        AND books.on_from <= spans.to_day AND books.on_to >= spans.from_day
    UNION ALL
    -- our own rule: a look speaks for the week before and after it; and so does, in the season it fell in, a picking that
    -- counts for the season before
    SELECT wanted.plant, wanted.season, looks."on" - 7, looks."on" + 7
    FROM wanted
    JOIN inside.placed_harvest AS looks ON looks.plant = wanted.plant AND looks.calendar_season = wanted.season
    WHERE looks.event = 'picked' AND is_dated(looks.on_from, looks.on_to)
),

-- watched stretches that touch or overlap are one
reach AS (
    SELECT
        *,
        max(to_day) OVER (
            PARTITION BY plant, season ORDER BY from_day, to_day ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
        ) AS reached
    FROM watched
),

stretches AS (
    SELECT plant, season, min(from_day) AS from_day, max(to_day) AS to_day
    FROM (
        SELECT *, sum(CAST(coalesce(from_day > reached + 1, true) AS INTEGER)) OVER (
            PARTITION BY plant, season ORDER BY from_day, to_day ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS stretch
        FROM reach
    )
    GROUP BY plant, season, stretch
),

seen AS (
    SELECT required.plant, required.season, bool_and(stretches.plant IS NOT NULL) AS without_gap
    FROM required
    LEFT JOIN stretches
        ON stretches.plant = required.plant AND stretches.season = required.season
        AND stretches.from_day <= required.from_day AND stretches.to_day >= required.to_day
    GROUP BY required.plant, required.season
)

SELECT
    wanted.plant,
    wanted.season,
    wanted.grew IS DISTINCT FROM false AND coalesce(seen.without_gap, false) AS watched
FROM wanted
LEFT JOIN seen USING (plant, season)
