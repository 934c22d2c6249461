"""What a grower reads names the columns and events of the book, and no class of the library."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import perennia as pn
from perennia.intake.sheet_columns import sheets
from perennia.records.catalogue import RECORDS

PACKAGE = Path(pn.__file__).parent
READ = ("analysis", "checking", "report", "cli")
CLASSES = "|".join(sorted(cls.__name__ for cls in RECORDS.values()))
NAMED = re.compile(rf"(?<=[a-z,;:(] )({CLASSES})\b|\(({CLASSES})\b")
"""A class where no sentence begins."""
WRITTEN = re.compile(r"\(event (\w+)(?:, column (\w+))?")


def _texts(path: Path) -> Iterator[str]:
    """Every text of a module that is no docstring, those put together of parts as one."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    joined = [node for node in ast.walk(tree) if isinstance(node, ast.JoinedStr)]
    apart = {id(part) for node in joined for part in node.values}
    apart |= {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in joined:
        yield "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in apart:
            yield node.value


MODULES = [path for folder in READ for path in sorted((PACKAGE / folder).rglob("*.py"))]


def test_no_sentence_names_a_class() -> None:
    assert NAMED.search("and record Lifted with root_g")
    assert NAMED.search("how many are slit (Visits with robbed)")
    assert not NAMED.search("Picked clean. Lifted roots")
    texts = [text for path in MODULES for text in _texts(path)]
    named = [text for text in texts if NAMED.search(text.replace("sheet Weather", ""))]
    assert named == []


def test_events_and_columns_named_are_those_of_the_sheets() -> None:
    columns = {event: {column.name for column in sheet.columns if event in column.rules}
               for sheet in sheets() for event in sheet.events}  # fmt: skip
    found = [match for path in MODULES for text in _texts(path) for match in WRITTEN.finditer(text)]
    assert len(found) > 20
    for match in found:
        assert match[1] in columns, match[0]
        assert match[2] is None or match[2] in columns[match[1]], match[0]
