-- one row is: one entry of any kind that bears on one plant, with its details in words
-- grain: plant, on, tie, table, record_id, event
-- needs: life, act_ranks, dated_harvest, flowering, care, seed, plants
-- kept: view
-- beside the books: by label
WITH words AS (
    SELECT
        plant, label, "on", on_from, on_to, 'life' AS "table", event, inferred, state,
        concat_ws(', ',
            'bed ' || bed, CASE WHEN plants > 1 THEN CAST(plants AS VARCHAR) || ' plants' END,
            CAST(alive AS VARCHAR) || ' alive', 'root ' || CAST(round(root_g) AS INTEGER) || ' g',
            CASE WHEN roots_broken THEN 'roots broken' END, condition, kept_because, place, protection, 'box ' || box,
            numbered(shoots, 'shoot'), 'to ' || in_tenths(to_cm) || ' cm', extent, cause, reason,
            'into ' || array_to_string("into", ', '), note
        ) AS what,
        -- what must have happened before an act stands before it, each after those that it needs
        record_id, ordinal * 64 + CASE WHEN inferred THEN ranks.rank - 64 ELSE 0 END AS tie
    FROM life
    LEFT JOIN inside.act_ranks AS ranks
        ON ranks.act = CASE life.event WHEN 'stored' THEN 'stored_bare' ELSE life.event END
    UNION ALL
    SELECT
        plant, label, "on", on_from, on_to, 'harvest', event, false, NULL,
        concat_ws(', ',
            in_tenths(grams) || ' g', in_tenths("count") || ' counted',
            CASE WHEN shared_by > 1 THEN 'share of a picking off ' || CAST(shared_by AS VARCHAR) || ' labels' END,
            CASE WHEN event = 'picked' AND NOT cropped THEN 'looked, nothing ripe' END,
            CASE WHEN clearance THEN 'clearance' END, "use", grade, note
        ),
        lower(hex(record_id)), 0
    FROM inside.dated_harvest
    WHERE plant IS NOT NULL
    UNION ALL
    SELECT
        plant, label, on_to, on_from, on_to, 'flowering', event, false, NULL,
        concat_ws(', ',
            'truss ' || truss, 'position ' || CAST(position AS VARCHAR), 'opened ' || CAST(opened_on AS VARCHAR),
            'set ' || CAST(set_on AS VARCHAR), "end", CAST(opened AS VARCHAR) || ' opened',
            CAST("set" AS VARCHAR) || ' set', CAST(dropped AS VARCHAR) || ' dropped',
            CAST(full_size AS VARCHAR) || ' full size', note
        ),
        record_id, 0
    FROM flowering
    WHERE plant IS NOT NULL
    UNION ALL
    SELECT
        plant, label, on_to, on_from, on_to, 'care', event, false, NULL,
        concat_ws(', ',
            in_tenths(litres) || ' l', in_tenths(mm) || ' mm', what, cover, cause,
            'trial ' || trial, 'arm ' || arm, 'block ' || block,
            CASE WHEN by_lot THEN 'by lot' WHEN NOT by_lot THEN 'chosen' END,
            CASE WHEN shared_by > 1 THEN 'with ' || numbered(shared_by - 1, 'other label') END, note
        ),
        record_id, 0
    FROM care
    WHERE plant IS NOT NULL
    UNION ALL
    SELECT
        plant, label, on_to, on_from, on_to, 'seed', event, false, NULL,
        concat_ws(', ',
            'lot ' || lot, in_tenths(grams) || ' g', numbered("count", 'seed'), note
        ),
        record_id, 0
    FROM seed
    WHERE plant IS NOT NULL
)

SELECT
    words.plant,
    words.label,
    CAST(season_year(words."on", lives.season_starts) AS BIGINT) AS season,
    season_name(season_year(words."on", lives.season_starts), lives.season_starts) AS season_name,
    words."on", words.on_from, words.on_to, words."table", words.event, words.what, words.inferred, words.state,
    words.record_id, words.tie, lives.life
FROM words
JOIN plants AS lives ON words.plant = lives.plant
