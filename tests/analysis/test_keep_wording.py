"""What a keep list says besides its figures: reasons, cautions, weights, what to look at."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from perennia.analysis.decisions.keeping.keep_list import keep_list, keep_list_of
from perennia.analysis.decisions.keeping.keep_roots import Root, RootBooks
from perennia.analysis.measures import MEASURES
from perennia.errors import AnalysisError, ArgumentError
from tests.analysis.keep_frame import alike_of, asked, books, differing, life, of
from tests.analysis.seasons_frame import frame


def test_weights_have_their_day_and_those_of_an_earlier_winter_are_called_old(tmp_path: Path) -> None:
    roots = books(P00=Root(root_g=900.0, weighed_on=date(2019, 11, 1), old=True),
                  P01=Root(root_g=300.0, weighed_on=date(2020, 11, 1)))  # fmt: skip
    result = asked(alike_of(2017), books=roots)
    # an old weight says nothing of the root as it is now
    assert result.table["label"].tolist()[:2] == ["P01", "P00"]
    assert "300 g on 2020-11-01)" in of(result, "P01")["reason"]
    assert "900 g on 2019-11-01, an earlier winter" in of(result, "P00")["reason"]
    assert "weighed in an earlier winter, so weigh again: P00" in result.summary()
    page = result.to_html(tmp_path / "list.html").read_text(encoding="utf-8")
    assert "Root last weighed at 900 g on 2019-11-01." in page


def test_selection_is_told_once_for_the_latest_seasons() -> None:
    rows = [*differing(seasons=6), *(one for year in range(2015, 2020) for i in range(3)
                                     for one in life(f"G{year}{i}", [300.0], until=year))]  # fmt: skip
    (said,) = (text for text in asked(rows).cautions if "not drawn by lot" in text)
    assert [f"before {year} " in said for year in range(2016, 2021)] == [False, False, True, True, True]


def test_cautions_of_several_crops_are_said_once() -> None:
    pea = [one | {"crop": "pea", "plant": f"{one['plant']}p"} for one in differing(seasons=2)]
    said = asked([*differing(seasons=2), *pea]).cautions
    assert any(text.startswith("bean, pea: fewer than 3 seasons") for text in said)
    rows = [one | {"finished": False} for one in [*differing(seasons=2), *pea] if one["label"] not in ("P01", "P02")
            or one["crop"] == "bean"]  # fmt: skip
    assert any("bean, pea: the season is not over for 12 and 10 plants" in text for text in asked(rows).cautions)


def test_an_earlier_season_that_is_not_over_is_said_to_be_left_out() -> None:
    rows = [one | {"finished": one["season"] not in (2019, 2020)} for one in differing(seasons=4)]
    said = "bean: season 2019 is still running for some plants and is left out for all (12 plant seasons)."
    assert said in asked(rows).cautions
    assert "still running" not in asked(differing(seasons=4)).summary()


def test_choices_say_why_for_all_who_share_a_reason() -> None:
    result = asked([*differing(), *(one for i in range(6) for one in life(f"F{i}", [825.0 + 20 * i]))])
    (no,) = (said for said in result.findings if "not worth a place" in said)
    assert "(less than fresh stock is expected to bear, even if it lives; n = " in no
    even = next(said for said in result.findings if "nothing on record decides" in said)
    assert re.search(r"if its chance to live is above \d+% to \d+%, and no winter", even)


def test_those_kept_before_had_out_cropped_the_others() -> None:
    rows = [*differing(), *(one for i in range(4) for one in life(f"G{i}", [400.0], until=2017))]
    result = asked(rows)
    assert len(result.selection) >= 1
    assert result.selection["gap"].iloc[0] > 0
    assert any("that is choosing, and says nothing of age" in text for text in result.cautions)


def test_lifting_goes_by_bed_and_label_as_one_comes_by() -> None:
    rows = [one | {"bed": "B10" if i % 2 else "B2"} for i, one in enumerate(differing(12, seasons=1))]
    listed = asked(rows, books={"bean": RootBooks(roots={"P03/2020": Root(veto="virus")}, ended={})}).lifting_list()
    assert listed["bed"].tolist() == ["B2"] * 6 + ["B10"] * 6
    assert listed[listed["bed"] == "B2"]["label"].is_monotonic_increasing
    assert set(listed["do"]) == {"choose", "destroy"}
    assert set(listed["begun"]) == {"2020"}


def test_a_season_without_plants_says_what_there_is() -> None:
    result = keep_list_of(frame(differing()), 1999)
    assert result.table.empty
    assert "No plant on record lives in season 1999; seasons on record are 2017, 2018, 2019, 2020." in result.findings


def test_several_crops_have_a_list_each_but_not_one_target() -> None:
    rows = [*differing(), *(one | {"crop": "pea", "plant": f"{one['plant']}p"} for one in differing())]
    result = asked(rows)
    assert (result.table["rank"] == 1).sum() == 2
    for given_ in ({"target": 500.0}, {"places": 3}):
        with pytest.raises(AnalysisError, match="name one of bean, pea as the crop"):
            asked(rows, **given_)


@pytest.mark.parametrize(
    ("options", "error", "says"),
    [
        ({"measure": "weight"}, AnalysisError, "choose one of total_g, count, g_per_m2$"),
        ({"measure": 5}, AnalysisError, "5 is no crop of a season"),
        *(({"measure": name}, AnalysisError, "is no crop of a season") for name in MEASURES
          if name not in ("total_g", "count", "g_per_m2")),
        ({"measure": "g_per_m2", "target": 100.0}, AnalysisError, "ask for it in total_g or count"),
        ({"repeatability": 1.5}, AnalysisError, "repeatability 1.5 is not between 0 and 1"),
        ({"repeatability": "high"}, ArgumentError, "repeatability is 'high'"),
        ({"assurance": 1.0}, AnalysisError, "assurance 1.0 is not between 0 and 1"),
        ({"level": 0.0}, AnalysisError, "level 0.0 is not between 0 and 1"),
        ({"places": -1}, AnalysisError, "places -1 is below 0"),
        ({"places": 2.5}, ArgumentError, "places is 2.5"),
        ({"target": -5.0}, ArgumentError, "target is -5.0; give a number above 0"),
        ({"target": float("inf")}, ArgumentError, "target is inf; give a number above 0"),
        ({"level": 10**400}, ArgumentError, "give a number such as 0.9"),
        ({"wintering": 3}, ArgumentError, "wintering is 3"),
    ],
)
def test_what_cannot_be_asked_is_refused(options: dict[str, Any], error: type[Exception], says: str) -> None:
    with pytest.raises(error, match=says):
        asked(differing(), **options)


def test_a_season_that_is_no_year_is_refused() -> None:
    with pytest.raises(ArgumentError, match="season"):
        keep_list(None, "autumn")  # type: ignore[arg-type]
