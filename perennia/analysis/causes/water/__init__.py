"""Water: what the air draws, what a crop draws, and what the soil of a bed still holds."""
