"""How a class of results gets its figure: each file of figures/ registers a function that draws it."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from functools import singledispatch
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from perennia.analysis.result import Result
from perennia.errors import AnalysisError, ArgumentError

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Drawn = TypeVar("Drawn", bound=Callable[..., Any])


@singledispatch
def draw(result: Result, ax: Axes | None, **options: Any) -> Figure:
    """The figure of a result, by its class. Raises AnalysisError for a class without one."""
    raise AnalysisError(f"{type(result).__name__} has no figure; its summary() says what it holds")


def _no_rows(result: Result) -> bool:
    return result.table.empty


def figure_of(
    kind: type[Result], *, axes: Literal["one", "several"], nothing: str,
    is_empty: Callable[[Any], bool] = _no_rows,
) -> Callable[[Drawn], Drawn]:  # fmt: skip
    """Register a function as what draws one class of results.

    It is called as ``function(result, **options)``, and with ``ax`` as second argument where axes is "one"; its
    options are its keyword-only arguments. It never sees a result that is_empty (a table without rows unless given):
    the figure of that is the sentence nothing.
    """

    def register(function: Drawn) -> Drawn:
        known = tuple(
            name for name, one in inspect.signature(function).parameters.items() if one.kind is one.KEYWORD_ONLY
        )

        def drawn(result: Result, ax: Axes | None, **options: Any) -> Figure:
            _check(kind, ax, axes, options, known)
            if is_empty(result):
                from perennia.report.sheet import sentence  # needs matplotlib, which draws nothing before plot

                return sentence(nothing, ax)
            figure: Figure = function(result, ax, **options) if axes == "one" else function(result, **options)
            return figure

        draw.register(kind, drawn)
        return function

    return register


def _check(kind: type[Result], ax: Axes | None, axes: str, options: dict[str, Any], known: tuple[str, ...]) -> None:
    if ax is not None and axes == "several":
        raise ArgumentError(f"the figure of {kind.__name__} has axes of its own, several; leave ax out")
    unknown = [name for name in options if name not in known]
    if unknown:
        there = f"it knows {', '.join(known)}" if known else "it has none"
        raise ArgumentError(f"the figure of {kind.__name__} has no option {', '.join(unknown)}; {there}")
