-- one row is: one plant and season into which acts at rest led, with what they say of the winter before it
-- needs: rests
-- kept: table
SELECT
    plant,
    leads_into AS season,
    bool_or(act = 'stored_pot') AS potted,
    bool_or(act IN ('lifted', 'stored_bare')) AS lifted,
    bool_or(act = 'mulched') AS mulched,
    max_by(protection, ordinal) FILTER (protection IS NOT NULL AND act IN ('stored_bare', 'stored_pot')) AS protection,
    max_by(box, ordinal) FILTER (box IS NOT NULL AND act IN ('stored_bare', 'stored_pot')) AS box,
    min(placed_on) FILTER (act <> 'died') AS entered_on
FROM inside.rests
GROUP BY plant, leads_into
