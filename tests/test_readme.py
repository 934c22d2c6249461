"""The README's examples are run as they stand, in an empty folder in which the demo was built."""

from __future__ import annotations

import doctest
from pathlib import Path

import pytest

from tests.terminal import run

README = Path(__file__).parent.parent / "README.md"


def test_examples(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert run("demo")[0] == 0
    failed, tried = doctest.testfile(str(README), module_relative=False, optionflags=doctest.NORMALIZE_WHITESPACE)
    assert tried >= 20
    assert failed == 0
