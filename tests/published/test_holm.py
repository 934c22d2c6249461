"""Holm's adjustment against printed and recorded examples."""

from __future__ import annotations

import pytest
from statsmodels.stats.multitest import multipletests

from perennia.analysis.holm import holm

# Raw p and its column "Holm" of the R package multtest (mt.rawp2adjp), as recorded in the tests of statsmodels
# (statsmodels/stats/tests/test_multi.py, res_multtest1 and res_multtest2).
RECORDED = {
    5.23656777208e-05: 5.23656777208e-04, 2.8140506198e-04: 2.53264555782e-03, 1.49877310796e-02: 1.19901848637e-01,
    2.02732688798e-02: 1.41912882159e-01, 1.77096952723e-01: 1.0, 6.42193923795e-01: 1.0, 6.80845947633e-01: 1.0,
    7.1626938238e-01: 1.0, 8.38541367553e-01: 1.0, 9.67833824309e-01: 1.0,
}  # fmt: skip
# the multiples rise to 0.024 and fall again: what is smaller than the one before it is lifted to it
RISING = {0.002: 0.012, 0.004: 0.020, 0.006: 0.024, 0.008: 0.024, 0.010: 0.024, 0.012: 0.024}

# SAS/STAT User's Guide, chapter on the procedure MULTTEST, example "Inputting Raw p-Values": 24 raw p, of which the
# column "Stepdown Bonferroni" prints 0.8395 for test 11. Read of it were tests 1 to 13, the others all 1.0000.
MULTTEST = (
    0.28282, 0.30688, 0.71022, 0.77175, 0.78180, 0.88581, 0.54685, 0.84978, 0.24228, 0.58977, 0.03498, 0.41607,
    0.31631, 0.05254, 0.45061, 0.75758, 0.12496, 0.49485, 0.21572, 0.50505, 0.94372, 0.81260, 0.77596, 0.36889,
)  # fmt: skip

# Benjamini and Hochberg 1995, J. R. Stat. Soc. B 57: 289-300, section 4: 15 p of a trial of thrombolysis, of which the
# Bonferroni and the Hochberg procedure both reject the three smallest at 5 % (p and statement from memory); Holm lies
# between these two, so it must reject the same.
THROMBOLYSIS = (
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590,
    1.0,
)  # fmt: skip


@pytest.mark.parametrize("example", [RECORDED, RISING], ids=["ten", "rising"])
def test_recorded_output_of_a_reference_in_any_order(example: dict[float, float]) -> None:
    for raw in (list(example), list(reversed(example))):
        assert holm(raw) == pytest.approx([example[p] for p in raw], rel=1e-9)


def test_a_printed_table() -> None:
    found = holm(MULTTEST)
    assert [f"{p:.4f}" for p in found[:13]] == ["1.0000"] * 10 + ["0.8395"] + ["1.0000"] * 2  # type: ignore[str-format]


def test_between_bonferroni_and_hochberg() -> None:
    found = holm(THROMBOLYSIS)
    assert [p is not None and p <= 0.05 for p in found] == [True] * 3 + [False] * 12
    # statsmodels.stats.multitest.multipletests(method="holm"): 0.114 for the fourth
    assert found == pytest.approx(list(multipletests(THROMBOLYSIS, method="holm")[1]), rel=1e-12)
    assert found[3] == pytest.approx(0.114, abs=1e-12)
