"""Draw the pictures of the README from the demo garden: ``python datasets/draw_pictures.py [FOLDER]``.

Each is an SVG of its own on white, for a page that shows it as an image cannot lend it its colours. Title and
description say in words what is drawn, with its numbers, so that a test can hold picture and garden together.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from xml.etree import ElementTree

import pandas as pd
from matplotlib.figure import Figure

import perennia as pn
from perennia.intake import read
from perennia.lifecycle import STATE_WORDS
from perennia.report import as_svg, plot
from perennia.report.look import INK
from perennia.report.svg import in_plain_colours

BEANS, BED, CURVES_SEASON, FLOWERS_SEASON = "Phaseolus coccineus", "Gate bed", 2022, 2023
STAKES = ("P01", "P02", "P03", "P04", "P05", "P06")
EVERY_DAYS = 14
SVG = "http://www.w3.org/2000/svg"


def demo_garden(folder: Path) -> pn.Garden:
    """The invented garden, built anew in a folder."""
    garden = pn.Garden.create(folder)
    with resources.as_file(resources.files("perennia") / "demo_garden") as books:
        read(garden, books, book="demo")
    return garden


def pictures(garden: pn.Garden) -> Iterator[tuple[str, str]]:
    """File name and text of each picture."""
    yield "overwintered_and_fresh.svg", _curves(garden)
    yield "lives.svg", _lives(garden)
    yield "set_and_nights.svg", _set_and_nights(garden)


def _curves(garden: pn.Garden) -> str:
    labels = garden.sql(
        "select distinct label from season_summary where bed = ? and season = ? and crop = ?",
        [BED, CURVES_SEASON, BEANS],
    )["label"]
    curves = pn.group_curves(garden, "stock", labels=list(labels), seasons=[CURVES_SEASON])
    last = curves.table.groupby("stock").tail(1).set_index("stock")
    ends = (f"{stock} {row.mean_cumulative:.0f} g by {row.on:%Y-%m-%d}" for stock, row in last.iterrows())
    rows = curves.table[curves.table.groupby("stock").cumcount() % EVERY_DAYS == 0]
    return _standing_alone(
        plot(curves),
        f"Runner beans of one bed and season, overwintered beside fresh: mean crop a plant, {', '.join(ends)}",
        [f"{row.stock} {row.on:%Y-%m-%d} {row.mean_cumulative:.0f} g (n {row.n})" for row in rows.itertuples()],
    )


def _lives(garden: pn.Garden) -> str:
    lives = pn.plant_lives(garden, STAKES, crops=[BEANS])
    picked = lives.pickings.groupby("plant").size()
    return _standing_alone(
        plot(lives),
        f"Lives of {lives.n} plants on {len(STAKES)} stakes over five seasons: growing, lifted, stored as bare roots "
        f"and replanted, with the days they were picked, {picked.sum()} in all",
        [
            f"{plant}: {len(own)} spells from {own['from'].min():%Y-%m-%d} to {own['from'].max():%Y-%m-%d}, "
            f"last {STATE_WORDS[own['state'].iloc[-1]]}, picked on {picked.get(plant, 0)} days"
            for plant, own in lives.table.groupby("plant", sort=False)
        ],
    )


def _set_and_nights(garden: pn.Garden) -> str:
    flowers = pn.pod_set(garden, crop=BEANS, season=FLOWERS_SEASON)
    site = garden.table("sites")["site"].iloc[0]
    warmth = pn.degree_days(garden, site, 10)
    days = flowers.by_opening_day.query("basis == 'flowers'")
    nights = warmth.table.set_index("on")["t_min_c"]
    return _standing_alone(
        plot(flowers, kind="dates", warmth=warmth),
        f"Share of flowers that set by the day they opened, {days['set'].sum()} of {days['set_decided'].sum()} in all, "
        "above the flowers and pods dropped and the lowest temperature of each day",
        [f"opened {row.on_to:%Y-%m-%d}: {row.set} of {row.set_decided} set, lowest {_celsius(nights.get(row.on_to))}"
         for row in days.itertuples()],
    )  # fmt: skip


def _celsius(value: object) -> str:
    return "not known" if value is None or pd.isna(value) else f"{value:.1f} °C"


def _standing_alone(figure: Figure, title: str, said: list[str]) -> str:
    """The figure as a file: on white, in ink, as large as its view box, with the numbers as its description."""
    ElementTree.register_namespace("", SVG)
    root = ElementTree.fromstring(in_plain_colours(as_svg(figure, title)))
    left, top, width, height = root.attrib["viewBox"].split()
    root.set("width", f"{width}pt")
    root.set("height", f"{height}pt")
    root.set("color", INK)
    description = ElementTree.Element(f"{{{SVG}}}desc")
    description.text = ". ".join(said)
    root.insert(1, description)
    place = {"x": left, "y": top, "width": width, "height": height}
    root.insert(2, ElementTree.Element(f"{{{SVG}}}rect", {**place, "fill": "#ffffff"}))
    return ElementTree.tostring(root, encoding="unicode") + "\n"


def main(folder: Path) -> None:
    """Write every picture into a folder."""
    folder.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as place, demo_garden(Path(place) / "demo") as garden:
        for name, text in pictures(garden):
            (folder / name).write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "pictures")
