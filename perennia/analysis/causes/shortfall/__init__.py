"""Why did flowers set so little: what the failures look like, and what the records say of each possible cause."""

from perennia.analysis.causes.shortfall.explain import Explanation, explain_shortfall

__all__ = ["Explanation", "explain_shortfall"]
