"""Warmth and cold: degree-days of a place, and the dates of its frosts."""
