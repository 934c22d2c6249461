"""Sentences of an answer by the crop they are about, so that its name is said once."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

from perennia.analysis.result import Result
from perennia.report.page.asking import sentence
from perennia.report.page.parts import Group


def by_crop(lines: Sequence[str], result: Result, also: Collection[str] = ()) -> tuple[Group, ...]:
    """The lines in groups, in their order within each: those that begin with the name of one crop of the table under
    that name, which is then left off; the others first, under no name. also: crops that sentences may speak of though
    no row of the table does."""
    crops = [str(crop) for crop in result.table["crop"].dropna().unique()] if "crop" in result.table else []
    crops = list(dict.fromkeys((*crops, *also)))
    found: dict[str, list[str]] = {"": []}
    for line in lines:
        crop = next((name for name in sorted(crops, key=len, reverse=True) if _about(line, name, crops)), "")
        found.setdefault(crop, []).append(sentence(re.sub(r"^[\s:,]+", "", line.removeprefix(crop))) if crop else line)
    return tuple(Group(name, tuple(own)) for name, own in found.items() if own)


def _about(line: str, crop: str, crops: Sequence[str]) -> bool:
    """Whether a line begins with the name of this crop, and does not go on with that of another."""
    rest = line.removeprefix(crop)
    return rest != line and rest[:1] in (":", ",", " ") and not any(rest.startswith(f", {other}") for other in crops)
