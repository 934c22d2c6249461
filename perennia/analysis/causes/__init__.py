"""Why a crop fell short, and what asks for attention: water, warmth, flowers, and what is due."""
