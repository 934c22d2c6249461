"""DEVELOPERS.md says what the code does: every table and column, every rule, and a test that exists for each."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from perennia.store.schemas import TABLES

ROOT = Path(__file__).parent.parent
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
RULE_ROW = re.compile(r"^\| ([A-Z]\d+) \| .+ \| .+ \| (.+) \|$", re.MULTILINE)


def rules_in_code() -> set[str]:
    sources = [*(ROOT / "perennia").rglob("*.py")]
    return {number for path in sources for number in re.findall(r'"([FRBL]\d+)"', path.read_text(encoding="utf-8"))}


@pytest.mark.parametrize("table", TABLES)
def test_every_column_of_a_table_is_listed_in_its_order(table: str) -> None:
    section = TEXT.split(f"#### `{table}`\n", 1)[1].split("\n#", 1)[0]
    assert re.findall(r"^\| `(\w+)` \|", section, re.MULTILINE) == TABLES[table].names


def test_every_rule_of_the_code_is_listed_once_and_no_other() -> None:
    listed = [number for number, _ in RULE_ROW.findall(TEXT)]
    assert sorted(listed) == sorted(rules_in_code())


def test_every_rule_names_tests_that_exist() -> None:
    tests = "\n".join(path.read_text(encoding="utf-8") for path in (ROOT / "tests").rglob("test_*.py"))
    for number, named in RULE_ROW.findall(TEXT):
        names = re.findall(r"`(test_\w+)`", named)
        assert names, number
        assert [name for name in names if f"def {name}(" not in tests] == [], number
