"""How the invented demo garden is made: the truth planted in it, and the books its grower kept."""
