"""The SQL of perennia: one relation a .sql file, whose head comment says what one row is and what it needs."""
