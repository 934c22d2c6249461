-- one row is: one plant and season with the days it took up ground, and the time and money written down for it
-- grain: plant, season
-- needs: life_seasons, plants, bed_spans, horizon, life, rests, harvest, care_rows, flowering_rows, seed_rows, entry_plants
-- kept: view
-- work on a root at rest, from its lifting on, is done for the season that rest leads into
-- shown: yes
-- plant: the plant, as label / year begun
-- label: the grower's own name
-- season: integer year of the first day of the growing year
-- occupied_days: days of the season, to date, on which it stood sown or growing in a bed on record; missing if on none
-- resting_days: days of the season, to date, on which it stood at rest in a bed on record
-- minutes: time spent on it in minutes, with its share of what was done to several; missing when none was written down
-- cost: money spent on it, likewise
-- works: entries of work on it or on the bed it stood in: not what was only looked at, unless it has a time
-- timed: those of them with a time
-- costed: entries about it with a cost
WITH windows AS (
    SELECT
        seasons.plant,
        seasons.label,
        seasons.season,
        -- what was sown ahead of its first season took up ground from then on
        CASE WHEN seasons.season = min(seasons.season) OVER (PARTITION BY seasons.plant)
            THEN least(seasons.first_day, lives.began_on) ELSE seasons.first_day END AS first_day,
        least(seasons.last_day, horizon.on_to) AS last_day,
        seasons.season_starts,
        min(seasons.season) OVER (PARTITION BY seasons.plant) AS first_season,
        max(seasons.season) OVER (PARTITION BY seasons.plant) AS last_season
    FROM inside.life_seasons AS seasons
    JOIN plants AS lives ON lives.plant = seasons.plant
    CROSS JOIN inside.horizon AS horizon
),

ground AS (
    SELECT
        windows.plant,
        windows.season,
        sum(least(spans.to_day, windows.last_day) - greatest(spans.from_day, windows.first_day) + 1)
            FILTER (spans.state IN ('sown', 'growing')) AS occupied_days,
        sum(least(spans.to_day, windows.last_day) - greatest(spans.from_day, windows.first_day) + 1)
            FILTER (spans.state = 'dormant') AS resting_days
    FROM windows
    JOIN inside.bed_spans AS spans
        ON spans.plant = windows.plant
        AND spans.from_day <= windows.last_day AND spans.to_day >= windows.first_day
    GROUP BY windows.plant, windows.season
),

-- what was done to a bed is shared by the plants standing in it that day
of_beds AS (
    SELECT
        spans.plant,
        rows.event,
        rows."on",
        rows.minutes / count(*) OVER (PARTITION BY rows.record_id) AS minutes,
        rows.cost / count(*) OVER (PARTITION BY rows.record_id) AS cost
    FROM (
        SELECT
            *, middle_day(on_from, on_to) AS "on"
        FROM inside.care_rows
        WHERE bed IS NOT NULL
    ) AS rows
    JOIN inside.bed_spans AS spans
        ON spans.bed = rows.bed AND rows."on" BETWEEN spans.from_day AND spans.to_day
),

of_labels AS (
    SELECT record_id, event, label, on_from, on_to, shared_by, minutes, cost
    FROM inside.care_rows
    WHERE label IS NOT NULL
    UNION ALL
    SELECT record_id, event, label, on_from, on_to, 1, minutes, cost FROM inside.flowering_rows
    UNION ALL
    SELECT record_id, event, label, on_from, on_to, 1, minutes, cost FROM inside.seed_rows WHERE label IS NOT NULL
),

dated AS (
    SELECT acts.plant, acts.event, acts."on", rests.leads_into, acts.minutes, acts.cost
    FROM life AS acts
    LEFT JOIN inside.rests AS rests ON rests.plant = acts.plant AND rests.ordinal = acts.ordinal
    WHERE NOT acts.inferred
    UNION ALL
    SELECT plant, event, "on", NULL, minutes, cost FROM of_beds
    UNION ALL
    SELECT
        known.plant,
        event,
        middle_day(entries.on_from, entries.on_to),
        NULL,
        entries.minutes / coalesce(entries.shared_by, 1),
        entries.cost / coalesce(entries.shared_by, 1)
    FROM of_labels AS entries
    JOIN inside.entry_plants AS known USING (record_id, event, label)
),

-- work before the first season of a plant, or on what is left of it after the last, is that season's
spent AS (
    SELECT
        dated.plant,
        greatest(
            windows.first_season,
            least(windows.last_season, coalesce(dated.leads_into, season_year(dated."on", windows.season_starts)))
        ) AS season,
        dated.event,
        dated.minutes,
        dated.cost
    FROM dated
    JOIN windows ON windows.plant = dated.plant AND windows.season = windows.first_season
    UNION ALL
    SELECT plant, season, event, minutes, cost FROM harvest WHERE plant IS NOT NULL
),

added AS (
    SELECT
        plant,
        season,
        sum(minutes) AS minutes,
        sum(cost) AS cost,
        count(*) FILTER (minutes IS NOT NULL OR event IN (
            'sown', 'planted', 'moved', 'lifted', 'stored', 'mulched', 'replanted', 'cut_back', 'removed', 'divided',
            'cutting_taken', 'picked', 'watered', 'fed', 'hand_pollinated', 'covered', 'uncovered', 'seed_saved'
        )) AS works,
        count(minutes) AS timed,
        count(cost) AS costed
    FROM spent
    GROUP BY plant, season
)

SELECT
    windows.plant,
    windows.label,
    CAST(windows.season AS BIGINT) AS season,
    CAST(ground.occupied_days AS BIGINT) AS occupied_days,
    CAST(ground.resting_days AS BIGINT) AS resting_days,
    added.minutes,
    added.cost,
    coalesce(added.works, 0) AS works,
    coalesce(added.timed, 0) AS timed,
    coalesce(added.costed, 0) AS costed
FROM windows
LEFT JOIN ground ON ground.plant = windows.plant AND ground.season = windows.season
LEFT JOIN added ON added.plant = windows.plant AND added.season = windows.season
