"""A result shows itself: escaped HTML for a notebook, plain lines for rich, and neither loads rich before."""

from __future__ import annotations

import io
import subprocess
import sys
from html.parser import HTMLParser

import pandas as pd
from rich.console import Console

from perennia.analysis.result import Result
from perennia.analysis.shown import FIRST_ROWS

_NASTY = "<script>alert('B1')</script> & [red]"


def _result(rows: int, findings: tuple[str, ...] = (_NASTY,), cautions: tuple[str, ...] = (_NASTY,)) -> Result:
    table = pd.DataFrame({
        "label": pd.Series([_NASTY] * rows, dtype="string"), "total_g": pd.Series([1234.5] * rows, dtype="Float64"),
        "finished": pd.Series([None] * rows, dtype="boolean"),
        "first_pick": pd.Series([pd.Timestamp("2024-07-18")] * rows),
    })  # fmt: skip
    return Result(table=table, n=rows, method="sums <of> pickings", units="g", cautions=cautions, findings=findings)


class _Seen(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.texts: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def test_a_notebook_sees_texts_and_no_elements_of_the_grower_s() -> None:
    seen = _Seen(_result(2)._repr_html_())
    assert "script" not in seen.tags
    assert seen.texts.count(_NASTY) == 4  # a finding, a caution and two cells
    assert seen.texts.count("1234") == 2
    assert seen.texts.count("2024-07-18") == 2
    assert "Method: sums <of> pickings" in seen.texts


def test_a_notebook_sees_the_first_rows_and_how_many_are_left() -> None:
    seen = _Seen(_result(FIRST_ROWS + 3)._repr_html_())
    assert seen.tags.count("tr") == 1 + FIRST_ROWS
    assert "3 more rows in .table." in seen.texts
    assert not any("more row" in text for text in _Seen(_result(FIRST_ROWS)._repr_html_()).texts)


def test_a_column_without_any_value_is_left_out_and_said() -> None:
    seen = _Seen(_result(1)._repr_html_())
    assert seen.tags.count("th") == 3
    assert "Nothing is known in these columns, which are left out: finished." in seen.texts


def test_an_empty_result_says_so() -> None:
    seen = _Seen(_result(0, findings=(), cautions=())._repr_html_())
    assert "table" not in seen.tags
    assert "Nothing was found to answer this with." in seen.texts
    assert "Cautions: none." in seen.texts


def test_rich_prints_rows_findings_and_cautions_as_they_are() -> None:
    file = io.StringIO()
    Console(file=file, width=200).print(_result(FIRST_ROWS + 1))
    printed = file.getvalue()
    assert printed.count(_NASTY) == FIRST_ROWS + 2  # the rows shown, the finding, the caution
    assert f"- {_NASTY}" in printed
    assert "1 more row in .table." in printed
    assert "1234" in printed


def test_results_load_no_rich() -> None:
    code = "import sys, perennia.analysis.result; sys.exit('rich' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
