-- one row is: one plant, by its number, season and day on which it was picked or looked at, with the crop in its measure
-- needs: measured_pickings
-- kept: view
SELECT
    number,
    season,
    "on",
    bool_or(cropped) AS cropped,
    bool_or(picked) AS picked,
    any_value(measure) AS measure,
    sum(amount) AS amount,
    sum(steady) AS steady,
    sum(other) AS other,
    sum(other_steady) AS other_steady,
    any_value(opens_on) AS opens_on
FROM inside.measured_pickings
GROUP BY number, season, "on"
