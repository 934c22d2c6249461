"""The books cut off after a day: what of each table's rows there is to see when nothing later is."""

from __future__ import annotations

from collections.abc import Sequence

_PLAIN = '"{column}"'
_DAY = "(SELECT until FROM inside.instant)"
_SO_FAR = f'CASE WHEN "{{column}}" > {_DAY} THEN {_DAY} ELSE "{{column}}" END'
_IF_COME = f'CASE WHEN "{{column}}" <= {_DAY} THEN "{{column}}" END'
# what a row tells of days beyond its first: a flower is followed, books and neighbours go on, as far as they had come
_CUT = {
    ("flowering", "opened_on"): _IF_COME,
    ("flowering", "set_on"): _IF_COME,
    ("flowering", "ended_on"): _IF_COME,
    ("flowering", "end"): f'CASE WHEN ended_on > {_DAY} THEN NULL ELSE "end" END',
    ("flowering", "on_to"): f"CASE WHEN event = 'flower_fate' THEN {_SO_FAR} ELSE on_to END",
    ("harvest", "until"): _SO_FAR,
    ("harvest", "on_to"): f"CASE WHEN event = 'books_kept' THEN {_SO_FAR} ELSE on_to END",
    ("care", "until"): _SO_FAR,
}


def cut_off(table: str, columns: Sequence[str], rows: str) -> str:
    """A SELECT of the rows of a table, given as a SELECT, that can speak of a day up to inside.instant's until.

    Rows of a span that reaches over that day are among them, as the door lets them in on that day. Of a flower what
    was seen later is left out, and complete books end that day.
    """
    if "on_to" not in columns:
        return rows
    shown = ", ".join(f'{_CUT.get((table, name), _PLAIN).format(column=name)} AS "{name}"' for name in columns)
    return f"SELECT {shown} FROM ({rows}) WHERE coalesce(on_from, DATE '0001-01-01') <= {_DAY}"

