"""Why did flowers set so little: what the failures look like, and what the records say of each possible cause."""
