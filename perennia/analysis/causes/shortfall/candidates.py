"""The candidates for a shortfall: what each predicts of the flowers, and what would decide about it.

Findings are of common bean (Phaseolus vulgaris) where no other crop is named.
"""

from __future__ import annotations

import attrs

from perennia.analysis.causes.shortfall.form_tests import Form


@attrs.frozen
class Candidate:
    """One candidate. predicts: what it would leave behind; forms: the forms of failure that is; even: whether it may
    take all flowers alike. cannot_tell: what these records cannot say of it whatever they hold; decides: the
    observation or small trial that would."""

    name: str
    predicts: str
    forms: frozenset[Form]
    even: bool
    cannot_tell: str
    decides: str


_ONE_SERIES = "one bed's weather is one series: what else came in the same days looks alike"

CANDIDATES = (
    Candidate(
        "too few visits",
        "flowers drop by the day they opened, before any pod is to be seen, on all plants alike; runner beans kept "
        "from bees bore 11 pods a plant against 96 (Free 1966, in McGregor 1976)",
        frozenset({"spell", "days", "slow", "curve"}), True,
        "days without visits are often days of bad weather, which may fail on its own",
        "leave no net or fleece over them while they flower, watch a bed for ten minutes on several days (event "
        "visits), and trip the flowers of every second truss by hand, the trusses drawn by lot (event hand_pollinated, "
        "column trusses): if those set no more, visits were enough",
    ),
    Candidate(
        "robbed flowers",
        "as too few visits, with flowers slit at the base; robbed flowers set no better than unvisited ones (Kendall "
        "and Smith 1977, Journal of Applied Ecology)",
        frozenset({"spell", "days", "slow", "curve"}), True,
        "a slit flower may have been visited as well",
        "look at the base of twenty open flowers on several days and write down how many are slit (event visits, "
        "column robbed)",
    ),
    Candidate(
        "hot nights or days",
        "flowers that opened within about ten days after heat drop, most of them as flowers or pods under 3 cm, on "
        "all plants alike, under water enough as well (Konsens, Ofir and Kigel 1991, Annals of Botany)",
        frozenset({"spell", "days", "one day", "slow", "curve"}), True,
        _ONE_SERIES,
        "record the lowest and highest temperature in the bed each day (sheet Weather), and shade half of the plants, "
        "drawn by lot, in the next heat",
    ),
    Candidate(
        "cold nights",
        "flowers that opened after cold nights fail, on all plants alike: pollen germinates less and ovules suffer "
        "(Dickson and Boettger 1984)",
        frozenset({"spell", "days", "one day", "slow", "curve"}), True,
        _ONE_SERIES,
        "record the lowest temperature in the bed each night (sheet Weather), and cover half of the plants, drawn by "
        "lot, on cold nights, open to insects by day",
    ),
    Candidate(
        "water deficit",
        "open flowers and young pods drop together in a dry spell, the upper and later ones first; half the water "
        "from first bud on cost 53 % of pods (abstract, authors not kept)",
        frozenset({"one day", "spell", "days", "slow", "curve"}), True,
        _ONE_SERIES + "; a shower on dry soil may not reach the roots",
        "record each watering with its amount (event watered), soil and area of the bed, and temperatures and rain of "
        "every day (the water balance of the bed names the days that lack them), and water half of the plants, drawn "
        "by lot, so that they never go short",
    ),
    Candidate(
        "pods left to ripen",
        "flowers fail where and when many pods already hang: later on the truss and the plant; plants picked clean go "
        "on setting (of later pepper flowers 78, 56, 28 and 6 % set beside 0, 1, 2 and 4 fruits, Heuvelink and "
        "Marcelis)",
        frozenset({"load", "slow", "curve", "days", "spell"}), False,
        "where all plants were picked alike, load rises with the date and is not told from it",
        "pick half of the plants, drawn by lot, every other day and young, the others as usual, and follow the flowers "
        "of both",
    ),
    Candidate(
        "neighbours' demand",
        "plants beside a large or thirsty neighbour set less than those that stand free, more so as it grows",
        frozenset({"plants", "drift", "slow", "curve"}), True,
        "plants beside a neighbour differ in light, soil and water together",
        "write down which plants have a neighbour (event neighbour), and cut it back beside half of them, drawn by lot",
    ),
    Candidate(
        "feeding",
        "too little: few flowers and early end; too much nitrogen: leaf instead of flower, over the whole season "
        "(common practice, no source)",
        frozenset({"plants", "slow", "curve", "drift"}), True,
        "what was given says nothing of what the soil held",
        "have the soil tested, or feed half of the plants, drawn by lot, and write down what and how much (event fed)",
    ),
    Candidate(
        "broken roots",
        "plants on broken roots set less from the start, and differ from the others of their bed (common practice, no "
        "source)",
        frozenset({"plants", "drift"}), False,
        "roots that broke were often the largest ones, and weak regrowth has other causes",
        "write down at lifting whether roots broke (event lifted, column roots_broken) and the shoots at "
        "regrowth (event regrew)",
    ),
    Candidate(
        "the plant's own limit",
        "upper flowers of a truss drop though lower ones set, day for day the same; 45 to 80 % of flowers and young "
        "pods are shed as a rule (Binnie and Clifford 1981)",
        frozenset({"position", "load", "neighbours", "trusses"}), True,
        "a limit set by light or leaf looks the same as one set by the plant",
        "take half of the lower pods off while small, on trusses drawn by lot: if the upper flowers of those then set, "
        "it is the plant's own limit",
    ),
)  # fmt: skip
NAMES = tuple(candidate.name for candidate in CANDIDATES)
