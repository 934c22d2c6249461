"""How many plants a trial needs, where the lot puts them, and what a comparison makes of it."""
