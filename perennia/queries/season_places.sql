-- one row is: one plant and season with the bed and cover of most of its days up to half its crop, and whether it moved
-- needs: place_spans, life_seasons, season_timing, horizon
-- kept: table
WITH bounds AS (
    SELECT
        seasons.plant,
        seasons.season,
        greatest(seasons.first_day, coalesce(seasons.first_growth, seasons.first_day)) AS from_day,
        -- tubers are lifted the day they are weighed, often the only sign of growth: where they stood that morning counts
        coalesce(seasons.first_growth >= seasons.first_day, false) AS since_growth,
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
    SELECT
        plant, season, least(from_day, to_day) AS from_day, to_day,
        least(from_day, to_day) - CAST(since_growth AS INTEGER) AS eve
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
        max(spans.to_day) AS last_day,
        -- lifted, weighed and replanted on one day: what was weighed grew where it had stood, be it for no day of these
        bool_or(spans.from_day <= windows.eve AND windows.eve < windows.from_day AND windows.from_day = windows.to_day)
            AS grown
    FROM windows
    JOIN inside.place_spans AS spans
        ON spans.plant = windows.plant
        AND spans.from_day <= windows.to_day AND spans.to_day >= windows.eve
    GROUP BY ALL
),

-- of all stays the longest, and of those the last; one that ended the evening before has no days, and counts alone or
-- where there is a single day
chosen AS (
    SELECT
        plant,
        season,
        max_by(struct_pack(site, bed, cover, container), (grown, days, last_day)) AS stay,
        sum(days) AS days,
        count(*) FILTER (WHERE days > 0) AS stays,
        coalesce(min(bed) FILTER (WHERE days > 0) <> max(bed) FILTER (WHERE days > 0), false) AS other_bed
    FROM stays
    GROUP BY plant, season
),

-- most plants had a single one
under_cover AS (
    SELECT stays.plant, stays.season, sum(stays.days) AS days
    FROM stays
    JOIN chosen ON chosen.plant = stays.plant AND chosen.season = stays.season AND stays.cover = chosen.stay.cover
    WHERE chosen.stays > 1
    GROUP BY stays.plant, stays.season
)

SELECT
    chosen.plant,
    chosen.season,
    chosen.stay.site AS site,
    chosen.stay.bed AS bed,
    chosen.stay.cover AS cover,
    chosen.stay.container AS container,
    -- our own rule: a second bed always counts, another cover (a fleece for cold nights) from a quarter of the days on
    chosen.stays > 1
        AND (chosen.other_bed OR chosen.days - coalesce(under_cover.days, 0) >= 0.25 * chosen.days) AS moved
FROM chosen
LEFT JOIN under_cover ON under_cover.plant = chosen.plant AND under_cover.season = chosen.season
