"""How a keep list was reached, in words."""

from __future__ import annotations

from collections.abc import Sequence

from perennia.analysis.decisions.keeping.keep_crop import Ask, CropAnswer, seasons_over


def keep_method(answers: Sequence[CropAnswer], ask: Ask) -> str:
    """How it was reached."""
    seasons = ", ".join(sorted({name for answer in answers for name in seasons_over(answer)}))
    text = (
        "Crop of a unit in a season = season of the site + age (first season or later, only by plants seen in both, "
        "where none is missing and some season holds both ages) + effect of the unit + rest; variances by REML "
        "(Patterson and Thompson 1971), effects of units drawn towards 0 by repeatability and number of seasons "
        f"(Henderson 1975). The season to come is the mean of those on record that are over ({seasons or 'none'}). The "
        "interval is for one season's crop of a root that lives: error of its effect, of the mean, rest and, from "
        "three seasons on, the spread of seasons (t with Satterthwaite's degrees of freedom), cut at 0. The chance to "
        "live is the share of roots on record under the same wintering, half a root added to either side (Brown, Cai "
        "and DasGupta 2001); expected = chance times expected if alive. Fresh stock: first seasons of plants from "
        "seed, each moved to the mean season where older plants that are told apart stood beside them. Ranked by "
        "condition of the root where plants are not told apart, sound before not recorded or sprouting before damaged "
        "or shrivelled before soft, unbroken before broken: common practice, no source."
    )
    if ask.target is not None:
        text += (
            " Target: 10000 drawn seasons with a fixed seed; roots die independently of one another at a chance drawn "
            "anew each time from what is known of it, the season's own part is common to all; what is lost with a "
            "box is shown apart. Seed: as many come up, with the assurance asked for, by a beta-binomial of the lot's "
            "latest germination test."
        )
    return text
