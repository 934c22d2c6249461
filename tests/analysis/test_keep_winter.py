"""The chance of a root in a keep list to come through, and roots that did not."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import attrs
import pytest

from perennia.analysis.decisions.keeping.keep_roots import Root
from perennia.analysis.decisions.surviving.root_winters import DIED, NOT_REGROWN, OPEN, SURVIVED, Winter
from tests.analysis.keep_frame import LAST, STORE, asked, books, differing, life, of, winter, winters


def test_survival_that_nobody_recorded_is_never_taken_for_certain() -> None:
    result = asked(differing())
    assert result.table["chance_alive"].isna().all()
    assert result.table["expected"].isna().all()
    assert not (result.table["keep"] == "yes").any()
    assert "survival is not known" in result.summary()
    best = result.table.iloc[0]
    even = best["fresh_expected"] / best["expected_if_alive"]
    assert f"worth more than fresh stock if its chance to live is above {even:.0%}" in best["reason"]
    other = asked(differing(), wintering="ground, mulch", winters=winters(18, 2))
    assert other.table["expected"].isna().all()
    assert f"no such winter is on record (there are {STORE})" in other.summary()


def test_the_winter_is_the_usual_one_unless_another_is_named() -> None:
    known = {"bean": [*winters(17, 3)["bean"], *(winter(50 + i, DIED, "ground") for i in range(10))]}
    usual, named = asked(differing(), winters=known), asked(differing(), winters=known, wintering="ground")
    assert "(the wintering most used here)" in usual.summary()
    assert usual.table["chance_alive"].iloc[0] == pytest.approx(17.5 / 21)
    assert named.table["chance_alive"].iloc[0] == pytest.approx(0.5 / 11)
    assert set(named.table["keep"]) == {"no"}
    assert (usual.winters["roots"].iloc[0], usual.winters["alive"].iloc[0]) == (20, 17)


def test_a_root_already_in_store_has_the_chance_of_that_store() -> None:
    known = {"bean": [*winters(19, 1)["bean"], *(winter(50 + i, DIED, "pot, heated") for i in range(9)),
                      attrs.evolve(winter(99, OPEN, "pot, heated"), plant="P11/2017", winter=LAST + 1)]}  # fmt: skip
    result = asked(differing(), winters=known)
    assert of(result, "P11")["wintering"] == "pot, heated"
    assert of(result, "P11")["chance_alive"] == pytest.approx(0.5 / 10)
    assert of(result, "P10")["chance_alive"] == pytest.approx(19.5 / 21)
    # the winter is part of the rank where it is known for all
    assert (of(result, "P10")["rank"], of(result, "P11")["rank"]) == (1, 12)
    assert asked(differing(), winters=known, wintering=STORE).table["chance_alive"].nunique() == 1


def test_three_of_three_is_not_certain_and_a_shared_box_is_one_root() -> None:
    alone = asked(differing(), winters=winters(3, 0))
    assert alone.table["chance_alive"].iloc[0] == pytest.approx(3.5 / 4)
    boxed = asked(differing(), winters={"bean": [winter(i, SURVIVED, box="crate") for i in range(6)]})
    assert boxed.table["chance_alive"].iloc[0] == pytest.approx(1.5 / 2)


def test_a_chance_that_differs_from_the_share_says_why() -> None:
    text = "10 of 11 roots on record came through"
    alone = asked(differing(), winters=winters(10, 1)).summary()
    assert text in alone
    assert "taken as 88%, half a root being added to the living and half a root to the dead" in alone
    assert "shared a box" not in alone
    shared = [winter(i, SURVIVED if i < 10 else DIED, box=f"crate {i % 2}") for i in range(11)]
    assert "roots that shared a box count for fewer" in asked(differing(), winters={"bean": shared}).summary()


def test_the_chance_to_live_does_not_hang_on_the_level_of_the_intervals() -> None:
    known = {"bean": [winter(i, DIED if i % 7 in (0, 3) else SURVIVED, box=f"crate {i % 5}") for i in range(30)]}
    wide, narrow = (asked(differing(), winters=known, level=level) for level in (0.99, 0.5))
    assert wide.table["chance_alive"].tolist() == narrow.table["chance_alive"].tolist()
    assert wide.winters["low"].iloc[0] < narrow.winters["low"].iloc[0]


def test_winters_after_the_choice_do_not_count() -> None:
    later = [Winter("L/2010", "L", "bean", None, LAST + 1, "2021", 2, "seed", STORE, None, None, None, None, 1, None,
                    None, DIED, None, None, None)]  # fmt: skip
    assert asked(differing(), winters={"bean": later}).table["chance_alive"].isna().all()


def test_plants_not_seen_since_the_winter_are_looked_for_and_not_ranked(tmp_path: Path) -> None:
    """As survival counts them; only the latest winter of a plant counts."""
    silent = [attrs.evolve(winter(i, NOT_REGROWN), plant="P11/2017", winter=LAST + i, winter_name=str(LAST + i))
              for i in (-1, 0)]  # fmt: skip
    back = [attrs.evolve(winter(i, outcome), plant="P10/2017", winter=LAST + i)
            for i, outcome in ((-1, NOT_REGROWN), (0, SURVIVED))]  # fmt: skip
    roots = books(P11=Root(root_g=220.0, weighed_on=date(2016, 11, 4)))
    result = asked(differing(), winters={"bean": [*silent, *back]}, books=roots, target=3000.0)
    assert set(result.table["label"]) == {f"P{i:02}" for i in range(11)}
    assert result.table["rank"].tolist() == list(range(1, 12))
    (one,) = (entry for _, entry in result.unseen.iterrows())
    assert (one["label"], one["winter"], one["root_g"]) == ("P11", "2020", 220)
    assert "not seen since the winter: look before you keep: P11 (before 2020" in result.summary()
    page = result.to_html(tmp_path / "list.html").read_text(encoding="utf-8")
    assert "<b>P11</b>" not in page
    assert "Not seen since the winter" in page.partition('id="labels"')[0]
    nobody = asked(life("Z", [500.0, 500.0]), winters={"bean": [attrs.evolve(silent[-1], plant="Z/2019")]})
    assert (len(nobody.table), len(nobody.unseen)) == (0, 1)
