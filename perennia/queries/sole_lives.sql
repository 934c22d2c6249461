-- one row is: one plant that is the only one its label ever had: every entry on the label in its days is about it
-- needs: label_lives, plant_numbers
-- kept: table
SELECT lives.label, any_value(numbers.number) AS number, any_value(lives.from_day) AS from_day,
    any_value(lives.to_day) AS to_day
FROM inside.label_lives AS lives
JOIN inside.plant_numbers AS numbers ON numbers.plant = lives.plant
GROUP BY lives.label
HAVING count(*) = 1
