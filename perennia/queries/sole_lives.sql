-- one row is: one plant that is the only one its label ever had: every entry on the label in its days is about it
-- needs: label_lives, plant_numbers
-- kept: table
SELECT numbers.*, lives.from_day, lives.to_day
FROM inside.label_lives AS lives
JOIN inside.plant_numbers AS numbers ON numbers.plant = lives.plant
QUALIFY count(*) OVER (PARTITION BY lives.label) = 1
