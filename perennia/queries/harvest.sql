-- one row is: one label's share of one picking, or one note of what was left for seed, or one bed's span of full books
-- grain: record_id, label
-- needs: placed_harvest
-- kept: view
-- shown: yes
-- plant: the plant, as label / year begun; missing for books_kept
-- label: the grower's own name; missing for books_kept
-- crop: botanical name
-- season: integer year of the first day of the growing year the row counts for
-- event: picked, left_for_seed or books_kept
-- on: day taken: the day itself, or the middle of its span (last day when the first is open), within the plant's life
-- on_from: first day it can have happened (first day of the books for books_kept)
-- on_to: last day it can have happened (last day of the books for books_kept)
-- grams: this label's share of the weight in g, the whole divided by the labels picked together
-- count: this label's share of the count, the whole divided by the labels picked together
-- shared_by: labels picked together, 1 for a picking of its own
-- use: what it was for
-- grade: the grower's own grade
-- clearance: everything stripped, ripe or not
-- bed: the bed, for books_kept only
-- minutes: this label's share of the time in minutes
-- cost: this label's share of the cost
-- note: the grower's note
-- record_id: the record, and so the picking, the row belongs to (32 hexadecimal digits)
SELECT
    plant, label, crop, CAST(season AS BIGINT) AS season, event, "on", on_from, on_to, grams, "count", shared_by, "use",
    grade, clearance, bed, minutes, cost, note, lower(hex(record_id)) AS record_id
FROM inside.placed_harvest
