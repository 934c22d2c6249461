"""What each plant cropped in each season, and when; how it came in, and how plants bear from year to year."""
