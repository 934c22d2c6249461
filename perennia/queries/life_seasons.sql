-- one row is: one plant and season in which it was alive, or for which its root was kept (lost in the winter before)
-- needs: plants, steps, state_spans, growth_seasons, picked_seasons, horizon, bed_spans, place_calendar, rests
-- needs: winter_rests, crop_profiles
-- kept: table
WITH spans AS (
    SELECT
        lives.*,
        CAST(replace(lives.season_starts, '-', '') AS INTEGER) AS starts,
        season_year(
            lives.began_on + CASE WHEN lives.origin = 'seed' THEN CAST(lives.sow_ahead_days AS INTEGER) ELSE 0 END,
            lives.season_starts
        ) AS first_season,
        season_year(coalesce(lives.ended_on, greatest(horizon.on_to, lives.began_on)), lives.season_starts)
            AS last_season,
        -- a root that died at rest before the season began was still a root kept for it
        (
            SELECT max(rests.leads_into) FROM inside.rests AS rests
            WHERE rests.plant = lives.plant AND rests.act = 'died'
                AND rests.state_before IN ('lifted', 'stored', 'dormant', 'sheltered')
        ) AS kept_for
    FROM plants AS lives
    CROSS JOIN inside.horizon AS horizon
),

listed AS (
    SELECT
        *,
        -- a sowing ahead of its season that ended, or was last heard of, before the season began still has that season
        greatest(first_season, last_season, coalesce(kept_for, last_season)) AS last_listed
    FROM spans
),

seasons AS (
    SELECT
        *,
        growing_year_begins(season, starts) AS first_day,
        growing_year_begins(season + 1, starts) - 1 AS last_day
    FROM (SELECT *, unnest(generate_series(first_season, last_listed)) AS season FROM listed)
),

last_witnessed AS (
    SELECT listed.plant, max(growth.season) AS season
    FROM listed
    JOIN inside.growth_seasons AS growth
        ON growth.plant = listed.plant AND growth.season BETWEEN listed.first_season AND listed.last_listed
    GROUP BY listed.plant
),

-- picked so lately, across the boundary, that what comes next may still be of the season before
still_bearing AS (
    SELECT listed.plant, picked.season
    FROM listed
    CROSS JOIN inside.horizon AS horizon
    JOIN inside.picked_seasons AS picked
        ON picked.plant = listed.plant AND picked.season = growing_year(horizon.on_to, listed.starts) - 1
    LEFT JOIN inside.crop_profiles AS profiles ON profiles.crop = profile_name(listed.crop)
    ANTI JOIN (FROM inside.steps WHERE ends_run(act)) AS breaks
        ON breaks.label = listed.label AND breaks.life = listed.life AND breaks.placed_on >= picked.last_crop
    WHERE is_early(horizon.on_to, listed.starts)
        AND listed.ended_on IS NULL
        AND horizon.on_to - picked.last_crop <= unbroken_days(profiles.usual_picking_gap_days)
),

known AS (
    SELECT
        seasons.*,
        growing_year(horizon.on_to, seasons.starts) AS horizon_season,
        witnessed.first_growth,
        witnessed.last_growth,
        last_witnessed.season AS last_witnessed_season,
        winters.potted,
        winters.lifted,
        winters.mulched,
        winters.protection,
        still_bearing.plant IS NOT NULL AS still_bearing,
        closing.state AS closing_state,
        closing.from_day AS closing_since,
        wintered_in.bed IS NOT NULL AS in_bed,
        places.container AS winter_container,
        CASE
            WHEN seasons.given_plant_season IS NOT NULL THEN seasons.given_plant_season
            WHEN seasons.origin = 'already here' THEN
                CASE
                    WHEN season_year(seasons.since_from, seasons.season_starts)
                        = season_year(seasons.since_to, seasons.season_starts)
                    THEN seasons.first_season - season_year(seasons.since_to, seasons.season_starts) + 1
                END
            WHEN seasons.origin = 'bought root' THEN NULL
            ELSE 1
        END + seasons.season - seasons.first_season AS plant_season,
        seasons.season > seasons.first_season
            OR (
                seasons.origin = 'already here'
                AND (
                    coalesce(season_year(seasons.since_to, seasons.season_starts) < seasons.first_season, false)
                    OR coalesce(seasons.given_plant_season > 1, false)
                )
            ) AS older
    FROM seasons
    CROSS JOIN inside.horizon AS horizon
    LEFT JOIN inside.growth_seasons AS witnessed ON witnessed.plant = seasons.plant AND witnessed.season = seasons.season
    LEFT JOIN last_witnessed ON last_witnessed.plant = seasons.plant
    LEFT JOIN still_bearing ON still_bearing.plant = seasons.plant AND still_bearing.season = seasons.season
    LEFT JOIN inside.winter_rests AS winters ON winters.plant = seasons.plant AND winters.season = seasons.season
    -- the state at the end of the season, or now when the season still runs; an end lasts, whatever the label names next
    LEFT JOIN inside.state_spans AS closing
        ON closing.label = seasons.label AND closing.life = seasons.life
        AND closing.from_day <= seasons.last_day AND (closing.to_day > seasons.last_day OR closing.state = 'ended')
    -- the bed a plant stood in on the first day of the season, if it stood in any
    LEFT JOIN inside.bed_spans AS wintered_in
        ON wintered_in.plant = seasons.plant
        AND seasons.first_day BETWEEN wintered_in.from_day AND wintered_in.to_day
    LEFT JOIN inside.place_calendar AS places ON places.bed = wintered_in.bed
)

SELECT
    plant, label, life, season, crop, cultivar, mother, plants, site, season_starts, first_day, last_day,
    CAST(plant_season AS BIGINT) AS plant_season,
    CASE
        WHEN older THEN 'own root'
        WHEN origin = 'already here' THEN NULL
        ELSE origin
    END AS raised_from,
    CASE
        WHEN older THEN 'overwintered'
        WHEN origin = 'already here' THEN NULL
        WHEN origin = 'seed' THEN 'fresh'
        ELSE origin
    END AS stock,
    CASE
        WHEN NOT older THEN NULL
        ELSE wintered(
            potted, lifted, mulched, protection,
            -- standing in a bed before and growing after, without a lifting, means it stayed there; else nobody knows
            season > first_season AND in_bed AND first_growth IS NOT NULL, winter_container
        )
    END AS wintering,
    older AND NOT coalesce(origin = 'already here' AND season = first_season, false) AS kept_root,
    CASE
        WHEN first_growth IS NOT NULL THEN true
        WHEN ended_on IS NOT NULL AND ended_on <= last_day THEN false
        WHEN last_witnessed_season > season THEN true
    END AS grew,
    first_growth,
    CASE WHEN ended_on <= last_day THEN ended_on END AS ended_on,
    CASE WHEN ended_on <= last_day THEN ended_how END AS ended_how,
    coalesce(
        horizon_season > season AND NOT still_bearing
        OR closing_state = 'ended'
        OR ended_on < first_day
        -- at rest after growth, unless it was seen growing again since (a regrowth nobody wrote down)
        OR (closing_state IN ('dormant', 'lifted', 'stored') AND last_growth <= closing_since),
        false
    ) AS finished
FROM known
