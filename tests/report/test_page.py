"""The season report as a page: whole and valid, safe with any text, right of odd gardens, and never a traceback."""

from __future__ import annotations

import re
import sys
from collections.abc import Collection, Mapping, Sequence
from datetime import date
from importlib import import_module
from pathlib import Path
from typing import Any

import attrs
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import perennia as pn
from perennia import crops
from perennia.analysis.measures import MEASURES
from perennia.analysis.shown import MISSING_MEANS
from perennia.errors import AnalysisError, ArgumentError, IntakeError, QueryLimitError
from perennia.report.page import season_report, write_season_report
from perennia.report.page.asking import Answered, Books
from perennia.report.page.measure_words import in_words
from perennia.report.page.parts import Said
from tests.report.page_gardens import LONG, NASTY, NASTY_TEXT, ODD_DAY, odd_garden, one_plant, row_of_plants
from tests.report.page_reader import Read, read, said
from tests.report.page_rules import broken_rules

# the package holds the function of that name
_PLANTS = import_module("perennia.report.page.sections.plants")


@pytest.fixture(scope="module")
def odd(tmp_path_factory: pytest.TempPathFactory) -> tuple[pn.Garden, str]:
    garden = odd_garden(tmp_path_factory.mktemp("odd") / "garden")
    return garden, season_report(garden, today=ODD_DAY)


@pytest.fixture(scope="module")
def seen(odd: tuple[pn.Garden, str]) -> Read:
    return read(odd[1])


@pytest.fixture(scope="module")
def one(tmp_path_factory: pytest.TempPathFactory) -> Read:
    """The page of one plant, picked once, drawn without figures."""
    with pytest.MonkeyPatch.context() as patch:
        _take_matplotlib(patch)
        return read(season_report(one_plant(tmp_path_factory.mktemp("one") / "garden"), today=ODD_DAY))


@pytest.fixture(scope="module")
def three(tmp_path_factory: pytest.TempPathFactory) -> tuple[Read, list[str]]:
    """The page of three plants, of which each has a page of its own, and how far it was said to be."""
    steps: list[str] = []
    with pytest.MonkeyPatch.context() as patch:
        _take_matplotlib(patch)
        patch.setattr(_PLANTS, "PAGES", 3)
        garden = row_of_plants(tmp_path_factory.mktemp("three") / "garden", 3)
        return read(season_report(garden, today=ODD_DAY, progress=steps.append)), steps


@pytest.fixture
def no_figures(monkeypatch: pytest.MonkeyPatch) -> None:
    """As where matplotlib is not installed: what is not about figures is tested without waiting for them."""
    _take_matplotlib(monkeypatch)


def _take_matplotlib(patch: pytest.MonkeyPatch) -> None:
    patch.setitem(sys.modules, "matplotlib.axes", None)


def _heads(page: Read, tag: str = "h2") -> list[str]:
    return [said(head) for head in page.all(tag)]


# ------------------------------------------------------------------ whole and valid


def test_the_page_is_valid_and_needs_nothing_but_itself(seen: Read) -> None:
    assert broken_rules(seen) == []
    assert {target for target in seen.targets() if target.removeprefix("#") not in seen.ids()} == set()
    assert seen.tags() & {"script", "link", "img", "iframe", "object", "form", "input"} == set()
    assert "url(http" not in seen.all("style")[0].text
    assert "@import" not in seen.all("style")[0].text


def test_the_contents_name_every_section_and_lead_there(seen: Read) -> None:
    (contents,) = seen.all("nav")
    links = [(link.get("href"), said(link)) for link in contents.iter("{http://www.w3.org/1999/xhtml}a")]
    assert links == [(f"#{head.get('id')}", said(head)) for head in seen.all("h2")]
    assert _heads(seen) == [
        "The season so far", "What changed", "What is due", "Comparisons", "Survival", "Why a plant fell short",
        "Which roots to keep", "What in the books asks for a look", "Cautions for these crops", "Plant by plant",
        "How the numbers were made",
    ]  # fmt: skip


def test_behind_every_figure_there_is_a_table_and_a_text_for_who_cannot_see_it(seen: Read) -> None:
    figures = seen.all("figure")
    assert len(figures) > 8
    assert len(seen.drawings()) == len(figures)
    parents = {child: parent for parent in seen.root.iter() for child in parent}
    for figure in figures:
        beside = list(parents[figure])
        after = beside[beside.index(figure) + 1]
        assert list(after.iter("{http://www.w3.org/1999/xhtml}table")), said(figure)
    for drawing in seen.drawings():
        named = [element for element in drawing.iter() if element.get("id") == drawing.get("aria-labelledby")]
        assert drawing.get("role") == "img"
        assert said(named[0]).strip()


def test_each_answer_is_listed_with_its_n_units_and_method(odd: tuple[pn.Garden, str], seen: Read) -> None:
    result = pn.compare_stock(odd[0].up_to(ODD_DAY), season=2024)
    text = seen.text()
    assert f"Overwintered against freshly raised, this season n{result.n}" in text.replace("\n", " ")
    assert result.units in text
    assert result.method in text
    assert result.cautions
    for caution in result.cautions:
        # the crop's name may stand over it, so that it begins otherwise
        assert in_words(caution).removeprefix("Phaseolus coccineus")[4:] in text


def test_the_cautions_of_the_crops_stand_there_with_their_sources(seen: Read) -> None:
    profile = crops.profile("Phaseolus coccineus")
    assert profile is not None
    assert len(profile.cautions) > 3
    for caution in profile.cautions:
        assert f"{' '.join(caution.text.split())} ({' '.join(caution.source.split())})" in seen.text()
    assert crops.CAUTIONS_DEFER in seen.text()
    assert "No caution is on file for Crop of <no> profile." in seen.text()
    assert MISSING_MEANS in seen.text()


# ------------------------------------------------------------------ texts


def test_any_text_of_the_records_is_text_on_the_page(seen: Read) -> None:
    assert seen.tags() & {"script", "b"} == set()
    text = seen.text()
    for written in (NASTY, NASTY_TEXT, LONG, "豆 ١ שעועית"):
        assert written in text
    assert "49" not in _heads(seen, "h1")[0]
    assert NASTY in said(seen.all("title")[0])


# ------------------------------------------------------------------ odd gardens, seasons and days


def test_an_empty_garden_says_so(tmp_path: Path) -> None:
    page = read(season_report(pn.Garden.create(tmp_path / "empty"), today=ODD_DAY))
    assert broken_rules(page) == []
    assert "The garden has no plant yet." in page.text()
    assert _heads(page) == ["The season so far"]
    assert page.all("nav") == []


def test_one_plant_picked_once(one: Read) -> None:
    assert broken_rules(one) == []
    assert "Phaseolus coccineus: 1 of 1 plant in growth was picked, 0.2 kg in all, on 1 August 2024" in one.text()
    assert "every plant here is new to the books" in one.text()
    assert [said(head) for head in one.all("h3")].count("B1") == 1


def test_the_season_asked_for_is_told_and_no_other(
    odd: tuple[pn.Garden, str], seen: Read, no_figures: None
) -> None:
    assert _heads(seen, "h1")[0].startswith("Season 2024")
    page = read(season_report(odd[0], 2023, today=ODD_DAY))
    assert _heads(page, "h1")[0].startswith("Season 2023")
    assert "gone" in _heads(page, "h3")
    assert "gone" not in _heads(seen, "h3")
    other = read(season_report(odd[0], 1999))
    assert "No plant grew in season 1999; the books hold plants of 2023, 2024." in other.text()


def test_nothing_later_than_the_day_is_looked_at(odd: tuple[pn.Garden, str], seen: Read, no_figures: None) -> None:
    assert "The last entry is of 20 August 2024." in seen.text()
    page = read(season_report(odd[0], today="2024-08-03"))
    assert "As the books stood on 3 August 2024." in page.text()
    assert "The last entry is of 1 August 2024." in page.text()
    assert "2024-08-20" not in page.text()


def test_a_plants_page_has_its_place_in_the_keep_list_and_what_its_season_may_come_to(tmp_path: Path) -> None:
    garden = row_of_plants(tmp_path / "garden", 3)
    books = Books(garden.up_to("2024-09-01"), 2024, "2024", date(2024, 9, 1), lambda step: None)
    listed, projected = pn.keep_list(books.source, 2024), pn.project_totals(books.source)
    rows = projected.table.assign(
        projected=[900.0, None, None], low=[700.0, None, None], high=[None] * 3, level=0.95, to_date=[300.0] * 3,
        as_of=pd.Timestamp("2024-09-01"), n=4, basis="crop, fresh", measure="g",
    )  # fmt: skip
    assert list(_PLANTS._kept(None, "B1/2024")) == list(_PLANTS._to_come(None, "B1/2024")) == []
    books.answers.extend([Answered("a", listed), Answered("b", attrs.evolve(projected, table=rows))])
    sheets = _PLANTS.plants(books).sheets
    told = [" ".join(part.text for part in sheet.parts if isinstance(part, Said)) for sheet in sheets]
    assert all("In the keep list it has rank 1 of 3 plants of its crop: " in text for text in told)
    coming = "Its running season: 300 g by 1 September 2024; the season may come to 900"
    assert [sheet.title for sheet, text in zip(sheets, told, strict=True) if coming in text] == ["B1"]
    assert "; by 4 finished seasons of its crop, fresh): a projection, not a record." in " ".join(told)


def test_a_day_that_nobody_wrote_is_told_nowhere(tmp_path: Path, no_figures: None) -> None:
    garden = one_plant(tmp_path / "garden")
    garden.record(pn.Sown("B2", "2024-05-10", crop="Phaseolus coccineus"), pn.Died("B2", "2024-08~", cause="slugs"))
    text = read(season_report(garden, today="2024-08-10")).text()
    assert "B2/2024 died about August 2024" in text
    assert "2024-09-15" not in text


def test_a_plant_lost_or_new_or_lately_picked_is_told(seen: Read) -> None:
    text = seen.text()
    assert "Died: 1 plant (Phaseolus coccineus): gone." in text
    assert f"New from seed: 2 plants (Crop of <no> profile, Phaseolus coccineus): 豆 ١ שעועית, {LONG}." in text
    assert "no comparison of anything" in text


def test_a_sum_tells_how_much_of_the_crop_was_not_weighed_or_counted(tmp_path: Path, no_figures: None) -> None:
    bean = "Phaseolus coccineus"
    picked: list[tuple[str, str, float | None, int | None]] = [
        ("B1", "2023-08-01", 2000, 40), ("B2", "2023-08-01", 1000, None), ("B2", "2023-08-05", None, 30),
        ("B1", "2024-08-20", 3000, 50), ("B2", "2024-08-20", 4000, None), ("B3", "2024-08-20", None, 7),
    ]  # fmt: skip
    garden = pn.Garden.create(tmp_path / "garden")
    garden.record(
        pn.Site("home", latitude=51.5),
        *(pn.Sown(label, "2023-05-10", crop=bean) for label in ("B1", "B2", "B3")),
        *(pn.Picked(label, on, grams=grams, count=count) for label, on, grams, count in picked),
    )  # fmt: skip
    page = read(season_report(garden, 2024, today=ODD_DAY))
    whole = dict(zip(*page.cells("Each crop as a whole"), strict=True))
    assert (whole["crop, kg"], whole["plants not weighed in full"]) == ("7", "1")
    assert (whole["pieces"], whole["plants not counted in full"]) == ("57", "1")
    before, now = page.cells("The crop beside that of the season before")[1][2::2]
    assert before == "2.0, 2 plants not weighed in full left out"
    assert now.startswith("7.0, 1 plant not weighed in full left out")
    day = dict(zip(*page.cells("What was written down in the 14 days up to the last entry"), strict=True))
    assert (day["entries"], day["crop, g"], day["entries not weighed"]) == ("3", "7000", "1")
    assert (day["pieces"], day["entries not counted"]) == ("57", "1")


def test_a_label_given_again_is_told_with_its_year_and_complete_books_are_no_entry(
    tmp_path: Path, no_figures: None
) -> None:
    garden = pn.Garden.create(tmp_path / "again")
    garden.record(
        pn.Site("home", latitude=51.5), pn.Bed("long bed", "home"),
        pn.Sown("B1", "2023-05-10", crop="Phaseolus coccineus", bed="long bed"), pn.Died("B1", "2023-09-10"),
        pn.Sown("B2", "2023-05-10", crop="Phaseolus coccineus", bed="long bed"), pn.Died("B2", "2023-09-10"),
        pn.Sown("B1", "2024-05-10", crop="Phaseolus coccineus", bed="long bed"), pn.Picked("B1", "2024-08-01", 180),
        pn.BooksKept("long bed", "2024-05-01", "2024-10-01"),
    )  # fmt: skip
    text = read(season_report(garden, today=ODD_DAY)).text()
    assert "Died: 2 plants (Phaseolus coccineus): B1/2023, B2." in text
    assert "New from seed: 1 plant (Phaseolus coccineus): B1/2024." in text
    assert "The last entry is of 1 August 2024." in text
    assert "books kept" not in text


def test_a_page_a_plant_only_up_to_a_number_that_is_stated(
    three: tuple[Read, list[str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, no_figures: None
) -> None:
    monkeypatch.setattr(_PLANTS, "PAGES", 2)
    one_too_many = read(season_report(row_of_plants(tmp_path / "row", 3), today=ODD_DAY))
    for page, most_pages, sheets in ((three[0], 3, 3), (one_too_many, 2, 0)):
        assert len(page.all("article")) == sheets
        assert f"{most_pages} plants" in page.text() or f"Up to {most_pages} each" in page.text()
        assert "B3" in page.text()


def test_how_far_it_is_is_said_by_section_and_plant(three: tuple[Read, list[str]]) -> None:
    steps = three[1]
    sections = [step for step in steps if step.startswith("section")]
    assert sections[0] == f"section 1 of {len(sections)}"
    assert sections[-1] == f"section {len(sections)} of {len(sections)}"
    assert [step for step in steps if step.startswith("plant")] == [f"plant {n} of 3" for n in (1, 2, 3)]


def test_a_large_garden_is_summed_up_in_a_small_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # as for 5,000 plants, at a size that a test can bear: no page a plant, no row a plant, no bar or curve a plant
    monkeypatch.setattr(_PLANTS, "ROWS", 70)
    written = season_report(row_of_plants(tmp_path / "row", 80), today=ODD_DAY)
    page = read(written)
    assert broken_rules(page) == []
    assert page.all("article") == []
    assert "The season has 80 plants." in page.text()
    assert "Each crop in each bed, by stock" in page.text()
    assert "Over 60 plants, so they are counted by state" in written
    assert "Over 24 plants, so all of a kind are drawn together" in written
    assert max(map(len, re.findall(r"<svg.*?</svg>", written, re.DOTALL))) < 60_000
    assert len(written) < 500_000


# ------------------------------------------------------------------ what cannot be


@attrs.frozen
class _Refusing:
    """A garden of which one view cannot be asked."""

    garden: pn.Garden
    view: str

    @property
    def profiles(self) -> Mapping[str, crops.CropProfile]:
        return self.garden.profiles

    def sql(self, query: str, params: Any = None, *, as_: Any = "pandas") -> Any:
        if self.view in query:
            raise QueryLimitError("the query took too long")
        return self.garden.sql(query, params, as_=as_)

    def table(
        self, view: str, *, labels: Collection[str] | None = None, years: Sequence[int] | None = None,
        as_: Any = "pandas",
    ) -> Any:  # fmt: skip
        return self.garden.table(view, labels=labels, years=years, as_=as_)

    def history(self, label: str) -> Any:
        return self.garden.history(label)

    def views(self) -> Any:
        return self.garden.views()

    def up_to(self, day: date) -> _Refusing:
        return _Refusing(self.garden.up_to(day), self.view)


def test_a_question_that_fails_is_a_sentence_in_its_place(odd: tuple[pn.Garden, str], no_figures: None) -> None:
    page = read(season_report(_Refusing(odd[0], "open_questions"), today=ODD_DAY))  # type: ignore[arg-type]
    assert "Check of the books: this cannot be answered here. The query took too long." in page.text()
    assert "Which roots to keep" in _heads(page)


def test_without_matplotlib_there_are_tables_and_a_sentence(odd: tuple[pn.Garden, str], no_figures: None) -> None:
    page = read(season_report(odd[0], today=ODD_DAY))
    assert page.drawings() == []
    assert "Figures need matplotlib; install it with: pip install 'perennia[report]'." in page.text()
    assert len(page.all("table")) > 8


def test_what_is_no_season_or_day_is_refused_in_words(odd: tuple[pn.Garden, str]) -> None:
    with pytest.raises(ArgumentError, match="season is '2024'; give a whole number"):
        season_report(odd[0], "2024")  # type: ignore[arg-type]
    with pytest.raises(ArgumentError, match="today"):
        season_report(odd[0], today="soon")


def test_without_jinja2_the_error_says_how_to_get_it(odd: tuple[pn.Garden, str], monkeypatch: Any) -> None:
    monkeypatch.setitem(sys.modules, "jinja2", None)
    with pytest.raises(AnalysisError, match=r"a report needs jinja2; install it with: pip install"):
        season_report(odd[0])


def test_the_page_is_written_once_and_over_nothing(tmp_path: Path) -> None:
    garden = pn.Garden.create(tmp_path / "empty")
    path = write_season_report(garden, tmp_path / "report.html", today=ODD_DAY)
    assert path.read_text(encoding="utf-8") == season_report(garden, today=ODD_DAY)
    with pytest.raises(IntakeError, match="is there already"):
        write_season_report(garden, path)
    with pytest.raises(IntakeError, match=r"write report\.html"):
        write_season_report(garden, tmp_path / "report.txt")


@given(st.lists(st.sampled_from(["A b", "A b, ", "A b c", "A b: x", "A b, A b c: y", "other", "A b, it grew"])))
@settings(max_examples=30)
def test_sentences_by_crop_are_all_there_once(lines: list[str]) -> None:
    import pandas as pd

    from perennia.analysis.result import Result
    from perennia.report.page.by_crop import by_crop

    table = pd.DataFrame({"crop": pd.Series(["A b", "A b c"], dtype="string")})
    result = Result(table=table, n=2, method="", units="")
    groups = by_crop(lines, result)
    assert sum(len(group.lines) for group in groups) == len(lines)
    assert all(group.name in ("", "A b", "A b c") for group in groups)
    kept = [line for group in groups if group.name == "A b" for line in group.lines]
    assert kept.count("X.") == lines.count("A b: x")
    assert [line for group in groups if not group.name for line in group.lines].count("A b, A b c: y") == lines.count(
        "A b, A b c: y"
    )


def test_a_measure_is_named_in_words_and_another_count_left_alone() -> None:
    said_of = "2024, per survivor, {}: overwintered 3 a plant, count them"
    for name, measure in MEASURES.items():
        assert in_words(said_of.format(name)) == said_of.format(measure.meaning)
    missing = "3 units left out, {} is missing."
    assert in_words(missing.format("total_g")) == missing.format("crop of the season by weight")
    assert in_words("a stand, count of its plants") == "a stand, count of its plants"


def test_no_comparison_names_a_column(one: Read) -> None:
    (compared,) = (said(part) for part in one.all("section") if part.get("aria-labelledby") == "comparisons")
    assert "per survivor, crop of the season by weight: " in compared
    assert "total_g" not in compared
