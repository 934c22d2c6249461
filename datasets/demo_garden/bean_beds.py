"""The bean beds over the seasons: which stakes stood where, which roots were kept, what was picked."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta

from demo_garden.beans import (
    CLEARED,
    Bean,
    come_up,
    first_flowers,
    frosted,
    lift,
    replant,
    season_of,
    sow,
    winter_in_store,
)
from demo_garden.books import Books, chance
from demo_garden.cropping import Picking, gather, note_nothing_ripe, note_pickings, rounds, shared
from demo_garden.truth import CUT_OFF, SEASONS

# roots of the Gate and Tunnel beds kept in the autumn that ends a season, and how many of them rot in store
AUTUMNS = {2020: (10, 1), 2021: (11, 2), 2022: (10, 1), 2023: (10, 2)}
LOT = {2020: "Bought 2020", 2021: "HR 2021", 2022: "HR 2022", 2023: "HR 2023", 2024: "HR 2024"}
RAISED = {2021, 2023}
BASKET = (4, 4, 5, 5)


@dataclass(frozen=True)
class Spring:
    """What goes into the Gate and Tunnel beds: new stakes, stakes taken over from dead plants, roots in the tunnel."""

    new: int
    taken_over: int
    in_tunnel: int


SPRINGS = {2020: Spring(12, 0, 0), 2021: Spring(4, 2, 3), 2022: Spring(4, 3, 3), 2023: Spring(2, 4, 3),
           2024: Spring(2, 3, 2)}  # fmt: skip


@dataclass
class Row:
    """The stakes of the Gate and Tunnel beds, from season to season."""

    roots: list[Bean] = field(default_factory=list)
    free: list[str] = field(default_factory=list)
    used: int = 0


def gate_and_tunnel(books: Books) -> dict[int, list[Bean]]:
    """Both beds through all seasons; the beans standing in each season.

    The best roots of each autumn are kept, the poorest composted; the tunnel is filled up with the best of the kept.
    """
    row, standing = Row(), {}
    for season in SEASONS:
        beans = _spring(books, row, season)
        standing[season] = beans
        pods = {bean.label: season_of(bean, season) for bean in beans}
        _pick_gate_and_tunnel(books, beans, pods, season)
        _books_kept(books, "Gate bed", season)
        _books_kept(books, "Tunnel bed", season)
        if season in AUTUMNS:
            totals = {label: sum(grams for _, grams in pieces) for label, pieces in pods.items()}
            _autumn(books, row, beans, totals, season)
    return standing


def _spring(books: Books, row: Row, season: int) -> list[Bean]:
    plan = SPRINGS[season]
    new = [f"P{number:02d}" for number in range(row.used + 1, row.used + plan.new + 1)]
    row.used += plan.new
    taken_over, row.free = row.free[: plan.taken_over], row.free[plan.taken_over :]
    fresh = [Bean(label, "Gate bed", "fresh") for label in sorted(taken_over) + new]
    for bean in fresh:
        sow(books, bean, season, raised=season in RAISED, lot=LOT[season])
    in_tunnel = [root.label for root in sorted(row.roots, key=lambda root: root.bed != "Tunnel bed")][: plan.in_tunnel]
    roots = [
        Bean(root.label, "Tunnel bed" if root.label in in_tunnel else "Gate bed", "overwintered")
        for root in sorted(row.roots, key=lambda root: root.label)
    ]
    # one root a year goes back to its old place without a word in the books
    back = sorted(root.label for root in row.roots if root.bed == "Gate bed" and root.label not in in_tunnel)
    for bean in roots:
        replant(books, bean, season, forgotten=bean.label == back[season % len(back)])
    first_flowers(books, roots + fresh, season)
    return roots + fresh


def _autumn(books: Books, row: Row, beans: list[Bean], totals: dict[str, float], season: int) -> None:
    kept_number, lost_number = AUTUMNS[season]
    ranked = sorted(beans, key=lambda bean: -totals[bean.label])
    kept, rest = ranked[:kept_number], ranked[kept_number:]
    lost = chance("lost", season).sample(sorted(bean.label for bean in kept), lost_number)
    frosted(books, [bean.label for bean in beans[::4]], season)
    for place, bean in enumerate(kept):
        because = "among the best of the row" if place < 6 else None
        lift(books, bean.label, season, because=because, exactly=place % 3 != 1)
        winter_in_store(books, bean.label, season, rots=bean.label in lost, box=f"Box {'AB'[place % 2]}")
    for place, bean in enumerate(sorted(rest, key=lambda bean: bean.label)):
        reason = "given to a neighbour" if place == 1 and season == 2021 else "poorest of the row, composted"
        books.write("life", "removed", date(season + 1, 5, 8), label=bean.label, reason=reason)
    row.roots = [bean for bean in kept if bean.label not in lost]
    row.free = sorted(lost) + sorted(bean.label for bean in rest)


def _pick_gate_and_tunnel(
    books: Books, beans: list[Bean], pods: dict[str, list[tuple[float, float]]], season: int
) -> None:
    days = rounds(("gate", season), date(season + 1, 1, 1), date(season + 1, 3, 28), BASKET)
    early = rounds(("tunnel", season), date(season, 12, 18), date(season + 1, 4, 2), (6, 7))
    pickings: list[Picking] = []
    for bean in beans:
        round_days = early if bean.bed == "Tunnel bed" else days
        pickings += gather(bean.label, pods[bean.label], round_days, least=2, clearance=CLEARED[season])
    if season == 2020:
        pickings = shared(pickings, ("P01", "P02"), days[8:12])
    fresh = [bean.label for bean in beans if bean.stock == "fresh"]
    if season == 2022:
        pickings = shared(pickings, fresh[-2:], days[14:17])
    forgotten = [one for one in pickings if season == 2020 and one.labels == ("P05",)][5:6]
    note_pickings(books, forgotten, remembered_month=[one.on for one in forgotten])
    note_pickings(books, [one for one in pickings if one not in forgotten], weight_only=0.10, use="kitchen")
    for label in fresh[:3]:
        first = min(one.on for one in pickings if label in one.labels)
        looks = [day for day in days if day < first]
        if looks:
            note_nothing_ripe(books, label, looks[-1])


def _books_kept(books: Books, bed: str, season: int) -> None:
    if bed == "Tunnel bed" and season == 2020:
        return
    last = date(season + 1, 4, 30)
    if last <= CUT_OFF:
        books.write("harvest", "books_kept", written=last, bed=bed, since=date(season, 12, 15), until=last)
    else:
        books.write("harvest", "books_kept", written=CUT_OFF, bed=bed, since=date(season, 12, 15), until=CUT_OFF)


def net_bed(books: Books) -> dict[int, list[Bean]]:
    """The bed under a net: sown in 2022, roots and fresh stakes side by side in 2023, roots alone in 2024."""
    first = [Bean(f"N{number}", "Net bed", "fresh") for number in range(1, 7)]
    for bean in first:
        sow(books, bean, 2022, raised=False, lot=LOT[2022])
    kept = _winter_net_bed(books, first, 2022, keep=5, lose=1)
    roots = [Bean(label, "Net bed", "overwintered") for label in kept]
    taken_over = [bean.label for bean in first if bean.label not in kept][:2]
    fresh = [Bean(label, "Net bed", "fresh") for label in [*taken_over, "N7", "N8"]]
    for bean in roots:
        replant(books, bean, 2023)
    for bean in fresh:
        sow(books, bean, 2023, raised=True, lot=LOT[2023])
    second = roots + fresh
    first_flowers(books, second, 2023)
    last = [Bean(label, "Net bed", "overwintered") for label in _winter_net_bed(books, second, 2023, keep=4, lose=1)]
    for bean in last:
        replant(books, bean, 2024)
    _pick_net_bed(books, last, 2024)
    return {2022: first, 2023: second, 2024: last}


def _winter_net_bed(books: Books, beans: list[Bean], season: int, *, keep: int, lose: int) -> list[str]:
    """Pick the season, keep the best roots; the labels of those that came through the winter."""
    totals = _pick_net_bed(books, beans, season)
    ranked = sorted(totals, key=lambda label: -totals[label])
    lost = chance("net bed lost", season).sample(sorted(ranked[:keep]), lose)
    for label in ranked[:keep]:
        lift(books, label, season, because="kept for the net bed", exactly=True)
        winter_in_store(books, label, season, rots=label in lost, box="Box C")
    for label in ranked[keep:]:
        books.write("life", "removed", date(season + 1, 5, 12), label=label, reason="poorest of the bed, composted")
    return sorted(set(ranked[:keep]) - set(lost))


def _pick_net_bed(books: Books, beans: list[Bean], season: int) -> dict[str, float]:
    days = rounds(("net", season), date(season + 1, 1, 2), date(season + 1, 4, 1), (6, 7, 7))
    pods = {bean.label: season_of(bean, season) for bean in beans}
    pickings = [one for label in pods for one in gather(label, pods[label], days, clearance=CLEARED[season])]
    note_pickings(books, pickings, use="kitchen")
    _books_kept(books, "Net bed", season)
    return {label: sum(grams for _, grams in pieces) for label, pieces in pods.items()}


# the baskets of the Fence bed: which stakes were picked together in each season
BASKETS = {
    2020: (("F1", "F2"), ("F3", "F4"), ("F5", "F6")),
    2021: (("F1", "F3"), ("F4", "F6")),
    2022: (("F1", "F3"), ("F2", "F6")),
    2023: (("F3", "F6"),),
    2024: (("F2", "F6"),),
}
FENCE_FRESH = {2020: ("F1", "F2", "F3", "F4", "F5", "F6"), 2021: ("F2",), 2023: ("F4",), 2022: (), 2024: ()}
FENCE_LOST = {2021: ("F2", "F5"), 2022: ("F4",), 2023: ("F1",), 2024: ("F3",)}
REGROWTH_NOT_NOTED = {2021: ("F3",), 2022: ("F3", "F6"), 2023: ("F6",), 2024: ("F6",)}


def fence_bed(books: Books) -> dict[int, list[Bean]]:
    """The white beans that stay in the ground under straw; some never come up. Picked in shared baskets."""
    standing: dict[int, list[Bean]] = {}
    roots: list[str] = []
    for season in SEASONS:
        for label in FENCE_LOST.get(season, ()):
            roots.remove(label)
            books.write(
                "life", "died", f"{season}-09/{season}-10", written=date(season, 10, 31), label=label,
                cause="rotted in the wet ground", note="never came up, found dead",
            )  # fmt: skip
        mulched = [Bean(label, "Fence bed", "mulched", "Manto Blanco") for label in roots]
        fresh = [Bean(label, "Fence bed", "fresh", "Manto Blanco") for label in FENCE_FRESH[season]]
        for bean in mulched:
            if bean.label not in REGROWTH_NOT_NOTED.get(season, ()):
                come_up(books, bean, season)
        for bean in fresh:
            sow(books, bean, season, raised=False, lot="Bought 2020" if season == 2020 else "MB 2021")
        standing[season] = mulched + fresh
        _pick_fence_bed(books, standing[season], season)
        roots = sorted(bean.label for bean in standing[season])
        frosted(books, roots, season)
        for label in roots:
            books.write("life", "mulched", date(season + 1, 5, 14), label=label, depth_cm=15, material="straw")
    return standing


def _pick_fence_bed(books: Books, beans: list[Bean], season: int) -> None:
    days = rounds(("fence", season), date(season + 1, 1, 4), date(season + 1, 4, 8), (6, 7))
    pickings = [
        one
        for bean in beans
        for one in gather(bean.label, season_of(bean, season), days, least=2, clearance=CLEARED[season])
    ]
    for together in BASKETS[season]:
        pickings = shared(pickings, together)
    if season == 2021:
        # one basket off a fresh stake and a mulched root: the two can no longer be told apart that season
        pickings = shared(_split_basket(pickings, days[7]), ("F1", "F2"), (days[7],))
    forgotten = sorted({one.on for one in pickings if one.labels == ("F1", "F3")})[4:5] if season == 2021 else []
    note_pickings(books, pickings, count_only=0.12, weight_only=0.05, remembered_month=forgotten)


def _split_basket(pickings: list[Picking], day: date) -> list[Picking]:
    """The basket of F1 and F3 on a day taken as picked off F1 alone."""
    return [
        Picking(one.on, ("F1",), one.grams, one.count) if one.on == day and "F1" in one.labels else one
        for one in pickings
    ]


def hill_bed(books: Books) -> dict[int, list[Bean]]:
    """Two stands, hills of several plants under one label, mulched in the ground and counted down."""
    counts = {"S1": {2020: 6, 2021: 5, 2022: 4, 2023: 4, 2024: 3}, "S2": {2022: 5, 2023: 4, 2024: 4}}
    standing: dict[int, list[Bean]] = {season: [] for season in SEASONS}
    for label, by_season in counts.items():
        before = 0
        for season, plants in by_season.items():
            stock = "fresh" if not before else "mulched"
            bean = Bean(label, "Hill bed", stock, "Manto Blanco", plants)
            standing[season].append(bean)
            if not before:
                sow(books, bean, season, raised=False, lot="Bought 2020" if season == 2020 else "MB 2021")
            else:
                come_up(books, bean, season)
                if plants < before:
                    books.write("life", "counted", date(season, 11, 20), label=label, alive=plants)
            before = plants
            days = rounds(("hill", season), date(season + 1, 1, 6), date(season + 1, 4, 4), (8, 9, 10))
            pickings = gather(label, season_of(bean, season), days, clearance=CLEARED[season])
            note_pickings(books, pickings, count_only=0.08, minutes_a_label=6)
            frosted(books, [label], season)
            mulched_on = date(season + 1, 5, 15) + timedelta(days=len(label))
            books.write("life", "mulched", mulched_on, label=label, depth_cm=20, material="leaves")
    return standing
