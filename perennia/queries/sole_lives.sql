-- one row is: one plant that is the only one its label ever had: every entry on the label in its days is about it
-- needs: label_lives
-- kept: table
SELECT label, any_value(plant) AS plant, any_value(from_day) AS from_day, any_value(to_day) AS to_day
FROM inside.label_lives
GROUP BY label
HAVING count(*) = 1
