-- one row is: one plant and season with the middle of the 7 days of its largest mean rate
-- needs: curve_peaks, plant_numbers
-- kept: view
SELECT numbers.plant, peaks.* EXCLUDE (number)
FROM inside.curve_peaks AS peaks
JOIN inside.plant_numbers AS numbers USING (number)
