"""Texts that a spreadsheet would run as a formula, made safe for a CSV file and brought back.

A cell that begins with an equals, plus, minus or at sign, a tab or a line break can be taken for a formula when a
spreadsheet opens the file, whatever is quoted (OWASP, CSV Injection, owasp.org/www-community/attacks/CSV_Injection,
its list of signs from memory; the full-width ones are taken for the narrow ones by some spreadsheets). An apostrophe
before it makes it text. A text that begins with apostrophes before such a sign gets one more, so that each comes back
as it was.
"""

from __future__ import annotations

import pyarrow as pa
import pyarrow.compute as pc

_SIGNS = r"[=+\-@\t\r\n＝＋－＠]"
_TO_GUARD = f"^'*{_SIGNS}"
_GUARDED = f"^'+{_SIGNS}"


def guarded(column: pa.Array) -> pa.Array:
    """The texts with an apostrophe before each that a spreadsheet would run, or that would look guarded."""
    return pc.if_else(
        pc.match_substring_regex(column, _TO_GUARD), pc.binary_join_element_wise("'", column, ""), column
    )


def unguarded(column: pa.Array) -> pa.Array:
    """The texts that guarded was given."""
    if not pc.any(pc.starts_with(column, "'")).as_py():
        return column
    return pc.if_else(pc.match_substring_regex(column, _GUARDED), pc.utf8_slice_codeunits(column, 1), column)
