"""Overwintered against fresh stock, later seasons against the first, and the change of both."""
