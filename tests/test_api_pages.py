"""The API reference comes out of the docstrings with the command of DEVELOPERS.md, every public name on its page."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

import perennia
import perennia.intake
import perennia.report

MODULES = (perennia, perennia.intake, perennia.report)
COMMAND = ("-W", "ignore", "-m", "pdoc", "--no-show-source", *(module.__name__ for module in MODULES))


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("api")
    subprocess.run([sys.executable, *COMMAND, "--no-search", "-o", str(folder)], check=True)
    return folder


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_every_public_name_stands_on_its_page_with_its_docstring(pages: Path, module: object) -> None:
    name = module.__name__  # type: ignore[attr-defined]
    page = (pages / f"{name.replace('.', '/')}.html").read_text(encoding="utf-8")
    public = [public for public in module.__all__ if public != "__version__"]  # type: ignore[attr-defined]
    shown = set(re.findall(r'<section id="([^".]+)"', page))
    assert set(public) <= shown
    bare = [one for one in public if not re.search(rf'<section id="{one}">.*?<div class="docstring">', page, re.DOTALL)]
    assert bare == []
