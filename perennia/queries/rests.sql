-- one row is: one act that belongs to a plant's rest, with the season that rest leads into
-- needs: plants, steps, growth_seasons
-- kept: table
WITH resting AS (
    SELECT
        lives.plant,
        lives.season_starts,
        steps.act,
        steps.ordinal,
        steps.state_before,
        steps.placed_on,
        steps.protection,
        steps.box,
        season_year(steps.placed_on, lives.season_starts) AS own_season,
        bool_or(growth.first_growth IS NOT NULL) AS grown
    FROM inside.steps AS steps
    JOIN plants AS lives ON steps.label = lives.label AND steps.life = lives.life
    LEFT JOIN inside.growth_seasons AS growth
        ON growth.plant = lives.plant
        AND growth.first_growth <= steps.placed_on
        AND growth.season = season_year(steps.placed_on, lives.season_starts)
    WHERE NOT steps.refused
        AND steps.act IN (
            'lifted', 'stored_bare', 'stored_pot', 'store_checked', 'mulched', 'died_back_whole', 'died'
        )
    GROUP BY ALL
),

-- the season a resting act leads into: the next one once the plant has grown in this one,
-- or when half a year has gone by without a sign of growth
led AS (
    SELECT
        *,
        own_season + CASE
            WHEN grown OR placed_on - season_first_day(own_season, season_starts) > 182 THEN 1 ELSE 0
        END AS leads_into
    FROM resting
)

-- a death at rest belongs to the rest it ended, however late it was found
SELECT
    * REPLACE (
        CASE WHEN act = 'died' AND state_before IN ('lifted', 'stored', 'dormant', 'sheltered')
            THEN coalesce(lag(leads_into) OVER (PARTITION BY plant ORDER BY ordinal), own_season)
            ELSE leads_into END AS leads_into
    )
FROM led
