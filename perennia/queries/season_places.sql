-- one row is: one plant and season with the bed and cover of most of its days up to half its crop, and whether it moved
-- needs: place_spans, life_seasons, season_timing, horizon
-- kept: table
WITH bounds AS (
    SELECT
        seasons.plant,
        seasons.season,
        greatest(seasons.first_day, coalesce(seasons.first_growth, seasons.first_day)) AS from_day,
        least(
            -- the straight line can put half the crop before the first picking, and that before any sign of growth
            coalesce(
                CASE WHEN timing.t50 IS NOT NULL THEN greatest(timing.t50, timing.first_pick) END,
                timing.last_pick, seasons.ended_on, seasons.last_day
            ),
            coalesce(seasons.ended_on, seasons.last_day), horizon.on_to
        ) AS to_day
    FROM inside.life_seasons AS seasons
    LEFT JOIN inside.season_timing AS timing USING (plant, season)
    CROSS JOIN inside.horizon AS horizon
),

windows AS (
    -- a plant sown ahead of a season that the books have not reached stands where it stands now
    SELECT plant, season, least(from_day, to_day) AS from_day, to_day
    FROM bounds
),

stays AS (
    SELECT
        windows.plant,
        windows.season,
        spans.site,
        spans.bed,
        spans.cover,
        spans.container,
        sum(least(spans.to_day, windows.to_day) - greatest(spans.from_day, windows.from_day) + 1) AS days,
        max(spans.to_day) AS last_day
    FROM windows
    JOIN inside.place_spans AS spans
        ON spans.plant = windows.plant
        AND spans.from_day <= windows.to_day AND spans.to_day >= windows.from_day
    GROUP BY ALL
)

SELECT
    plant,
    season,
    max_by(site, (days, last_day)) AS site,
    max_by(bed, (days, last_day)) AS bed,
    max_by(cover, (days, last_day)) AS cover,
    arg_max_null(container, (days, last_day)) AS container,
    -- our own rule: a second bed always counts, another cover (a fleece for cold nights) from a quarter of the days on
    count(DISTINCT bed) > 1
        OR sum(days) - coalesce(sum(days) FILTER (cover = most_cover), 0) >= 0.25 * sum(days) AS moved
FROM (
    SELECT *, max_by(cover, (days, last_day)) OVER (PARTITION BY plant, season) AS most_cover
    FROM stays
)
GROUP BY plant, season
