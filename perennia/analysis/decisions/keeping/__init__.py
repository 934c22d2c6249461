"""Which roots are worth a winter place, how many roots and sowings meet a target, and the pages for lifting day."""
