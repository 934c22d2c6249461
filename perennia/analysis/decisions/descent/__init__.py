"""What a plant comes from, and what came from it."""
