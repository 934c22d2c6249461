"""The pictures of the README are those that the demo garden gives now: the same words and numbers, as many marks."""

from __future__ import annotations

import re
import runpy
import shutil
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import pytest

import perennia as pn
from tests.datasets.shipped import ROOT

PICTURES = ROOT / "datasets" / "pictures"
README = (ROOT / "README.md").read_text(encoding="utf-8")
SCRIPT = runpy.run_path(str(ROOT / "datasets" / "draw_pictures.py"))
SVG = "{http://www.w3.org/2000/svg}"
TICK = re.compile(r"M 0 0\s+L (0 3|-3 0)\s*")
REMEDY = "run: python datasets/draw_pictures.py"


@pytest.fixture(scope="module")
def garden(tmp_path_factory: pytest.TempPathFactory) -> Iterator[pn.Garden]:
    with SCRIPT["demo_garden"](tmp_path_factory.mktemp("pictures") / "demo") as demo:
        yield demo


@pytest.fixture(scope="module")
def drawn(garden: pn.Garden) -> dict[str, str]:
    return dict(SCRIPT["pictures"](garden))


def shipped() -> dict[str, str]:
    return {path.name: path.read_text(encoding="utf-8") for path in PICTURES.iterdir()}


def elements(svg: str) -> list[ElementTree.Element]:
    """Everything but the ticks, which each version of matplotlib sets where it likes."""
    root = ElementTree.fromstring(svg)
    parents = {child: parent for parent in root.iter() for child in parent}
    strokes = {f"#{path.get('id')}" for path in root.iter(f"{SVG}path") if TICK.fullmatch(path.get("d", ""))}
    # a stroke lies in a group of its own, that in the group of the line, and that beside its number in the tick's
    ticks = [parents[parents[parents[use]]] for use in root.iter(f"{SVG}use") if use.get("href") in strokes]
    left_out = {id(element) for tick in ticks for element in tick.iter()}
    return [element for element in root.iter() if id(element) not in left_out]


def words(svg: str) -> list[str]:
    """Title, description and every text, in the order of the file."""
    spoken = (f"{SVG}title", f"{SVG}desc", f"{SVG}text")
    return [element.text or "" for element in elements(svg) if element.tag in spoken]


def marks(svg: str) -> Counter[str]:
    """How many lines and areas are drawn, and how many markers."""
    found = elements(svg)
    return Counter({kind: sum(element.tag == f"{SVG}{kind}" for element in found) for kind in ("path", "use")})


def test_the_shipped_pictures_say_what_the_garden_gives(drawn: dict[str, str]) -> None:
    assert {name: words(svg) for name, svg in shipped().items()} == {
        name: words(svg) for name, svg in drawn.items()
    }, REMEDY


def test_the_shipped_pictures_have_as_many_marks(drawn: dict[str, str]) -> None:
    assert {name: marks(svg) for name, svg in shipped().items()} == {
        name: marks(svg) for name, svg in drawn.items()
    }, REMEDY


def test_ticks_are_left_out_and_nothing_else() -> None:
    said = words(shipped()["overwintered_and_fresh.svg"])
    assert {"Mean crop of groups of plants", "date", "crop a plant, g", "n = 5", "n = 6"} <= set(said)
    assert not {"250", "500", "1 Mar", "2023"} & set(said)


def test_one_picking_more_changes_the_words(garden: pn.Garden, drawn: dict[str, str], tmp_path: Path) -> None:
    shutil.copytree(garden.path, tmp_path / "demo")
    with pn.Garden.open(tmp_path / "demo") as other:
        other.record(pn.Picked("P05", "2023-02-10", 60))
        changed = dict(SCRIPT["pictures"](other))
    differ = {name for name in drawn if words(drawn[name]) != words(changed[name])}
    assert differ == {"overwintered_and_fresh.svg", "lives.svg"}


@pytest.mark.parametrize("name", sorted(shipped()))
def test_a_picture_stands_alone_on_a_page_of_either_colour(name: str) -> None:
    path = PICTURES / name
    root = ElementTree.fromstring(path.read_text(encoding="utf-8"))
    ground = root.find(f"{SVG}rect")
    assert ground is not None
    assert ground.get("fill") == "#ffffff"
    assert [ground.get(side) for side in ("x", "y", "width", "height")] == root.attrib["viewBox"].split()
    assert root.get("color") == "#22272b"
    assert path.stat().st_size < 150_000


def test_the_readme_shows_every_picture_with_words_for_who_cannot_see_it() -> None:
    shown = dict(re.findall(r"!\[([^\]]+)\]\(datasets/pictures/([^)]+)\)", README))
    assert set(shown.values()) == set(shipped())
    assert all(len(alt) > 40 for alt in shown)
    for alt, name in shown.items():
        assert set(re.findall(r"\d+", alt)) <= set(re.findall(r"\d+", words(shipped()[name])[0])), alt
