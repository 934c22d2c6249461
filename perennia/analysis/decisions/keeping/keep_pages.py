"""A keep list on paper: what to lift in the order in which it is come by, and labels to cut out."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from pathlib import Path
from typing import Any

import pandas as pd

from perennia.analysis.decisions.keeping.keep_rows import EVEN, NO, VETO, YES
from perennia.analysis.decisions.keeping.keep_unseen import LOOK
from perennia.analysis.measures import number
from perennia.analysis.name_order import in_order
from perennia.analysis.result import framed
from perennia.analysis.units import Row, rows_of
from perennia.intake.new_file import new_path, write_new
from perennia.intake.page_style import STYLE

LIFTING = {
    "site": "string", "bed": "string", "label": "string", "plant": "string", "crop": "string", "cultivar": "string",
    "plants": "Int64", "begun": "string", "do": "string", "rank": "Int64", "box": "string", "root_g": "Float64",
    "weighed_on": "datetime64[s]", "condition": "string", "why": "string",
}  # fmt: skip
"""Columns of KeepList.lifting_list; one row a plant.

begun: the year in which the plant began, or since which it is in the books. do: keep, compost, choose or destroy.
root_g: the last weight of the root in g, taken on weighed_on, where one is on record; all are to be weighed. why:
as the list has it.
"""
DO = {YES: "keep", NO: "compost", EVEN: "choose", VETO: "destroy"}
_WIDTHS = {"": 8, "label": 20, "bed": 20, "do": 17, "rank": 10, "root g": 17, "box": 16, "why": 80}
_STYLE = """
.lifting tbody td { vertical-align: top; padding: 1mm; font-size: 0.85rem; line-height: 1.25; overflow-wrap: anywhere; }
.box { display: inline-block; width: 4.5mm; height: 4.5mm; border: 0.4mm solid #000; }
.labels { display: grid; grid-template-columns: repeat(3, 1fr); gap: 0; margin: 0; padding: 0; list-style: none; }
.labels li { border: 0.2mm dashed #000; padding: 2.5mm; min-height: 26mm; break-inside: avoid;
  overflow-wrap: anywhere; }
.labels b { display: block; font-size: 1.25rem; }
.labels span { display: block; font-size: 0.85rem; line-height: 1.3; }
.said li { margin-bottom: 1mm; }
@media print {
  section.long { break-inside: auto; }
  .lifting tbody td, .labels span { font-size: 8.5pt; }
  .labels b { font-size: 13pt; }
}
"""


def lifting_rows(table: pd.DataFrame) -> pd.DataFrame:
    """The rows of a keep list by site, bed and label, as one comes by the plants."""
    rows = sorted(rows_of(table), key=lambda row: (*(in_order(row[name]) for name in ("site", "bed", "label")),))
    return framed([_lifting(row) for row in rows], LIFTING)


def write_pages(table: pd.DataFrame, unseen: pd.DataFrame, season: int, said: Sequence[str], path: Any) -> Path:
    """Write the page for a keep list with what was said of it, and return its path."""
    named = new_path(path, ".html", "the lifting list")
    write_new(named, _document(rows_of(lifting_rows(table)), rows_of(unseen), season, said).encode())
    return named


def _lifting(row: Row) -> dict[str, object]:
    season = int(str(row["plant"]).rpartition("/")[2].partition(".")[0])
    return {name: row.get(name) for name in LIFTING} | {
        "begun": str(season) if row["plant_season"] is not None else f"in the books since {season}",
        "do": DO[str(row["keep"])], "why": row["reason"],
    }  # fmt: skip


def _document(rows: Sequence[Row], unseen: Sequence[Row], season: int, said: Sequence[str]) -> str:
    sentences = "".join(f"<li>{escape(text)}</li>" for text in said)
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Lifting list, autumn of {season}</title>
<style>{STYLE}{_STYLE}</style>
</head>
<body>
<main>
<section class="long" aria-labelledby="lifting">
<div class="head"><h1 id="lifting">Lifting list</h1><p>autumn of season {season}, {len(rows)} plants</p></div>
<div class="wide" tabindex="0">
{_list(rows)}
</div>
<p class="foot">Tick each when it is lifted and write down the weight of its root. Choose: nothing on record decides, go
by the root in your hand. Destroy: neither compost it nor set it near others.</p>
</section>
{_unseen(unseen)}<section class="long" aria-labelledby="labels">
<div class="head"><h2 id="labels">Labels to cut out</h2><p>for what is kept</p></div>
<ul class="labels">{"".join(_label(row) for row in rows if row["do"] in (DO[YES], DO[EVEN]))}</ul>
</section>
<section class="long" aria-labelledby="said">
<div class="head"><h2 id="said">What this list rests on</h2></div>
<ul class="said">{sentences}</ul>
</section>
</main>
</body>
</html>
"""


def _unseen(rows: Sequence[Row]) -> str:
    """The plants that are to be looked for, which have no label to cut out."""
    if not rows:
        return ""
    lines = "".join(f"<li>{_text(_last_of(row))}</li>" for row in rows)
    return f"""<section class="long" aria-labelledby="unseen">
<div class="head"><h2 id="unseen">{LOOK[:1].upper()}{LOOK[1:]}</h2></div>
<ul class="said">{lines}</ul>
</section>
"""


def _last_of(row: Row) -> str:
    """A plant not seen since its latest winter, with what was last seen of it."""
    said = [f"{row['label']}, {row['bed'] or 'in no bed'}", f"before {row['winter']} {row['wintering']}"]
    if row["box"] is not None:
        said.append(f"box {row['box']}")
    for name, text in (("last_alive_on", "last seen alive on"), ("dead_by", "no sign of life by")):
        if row[name] is not None:
            said.append(f"{text} {row[name].date()}")
    return "; ".join([*said, *_weighed(row)])


def _weighed(row: Row) -> list[str]:
    """The last weight of a root with its day, where there is one."""
    if row["root_g"] is None:
        return []
    on = "" if row["weighed_on"] is None else f" on {row['weighed_on'].date()}"
    return [f"root last weighed at {number(row['root_g'])} g{on}"]


def _list(rows: Sequence[Row]) -> str:
    widths = "".join(f'<col style="width: {width}mm">' for width in _WIDTHS.values())
    heads = "".join(f'<th scope="col">{name or "done"}</th>' for name in _WIDTHS)
    body = "\n".join(_line(row) for row in rows)
    return f"""<table class="lifting" aria-labelledby="lifting">
<colgroup>{widths}</colgroup>
<thead><tr>{heads}</tr></thead>
<tbody>
{body}
</tbody>
</table>"""


def _line(row: Row) -> str:
    # the weight is left blank to fill in, whatever it was once; that is told with the reason
    why = " ".join([row["why"], *(f"{text[:1].upper()}{text[1:]}." for text in _weighed(row))])
    cells = (row["label"], row["bed"], row["do"], row["rank"], None, row["box"], why)
    return f'<tr><td><span class="box"></span></td>{"".join(f"<td>{_text(cell)}</td>" for cell in cells)}</tr>'


def _label(row: Row) -> str:
    lines = (row["crop"], row["cultivar"], f"begun {row['begun']}" if str(row["begun"]).isdecimal() else row["begun"],
             f"box {row['box']}" if row["box"] is not None else "box ________")  # fmt: skip
    told = "".join(f"<span>{_text(line)}</span>" for line in lines if line is not None)
    return f"<li><b>{_text(row['label'])}</b>{told}</li>"


def _text(value: Any) -> str:
    return "" if value is None else escape(str(value))
