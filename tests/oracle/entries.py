"""What was picked and counted, and care, weather and seed: the views harvest, flowering, care, weather, seed."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from fractions import Fraction
from itertools import pairwise
from typing import Any

from perennia import crops
from tests.oracle.book import FAR, Book, Entry, Row, season_begins, season_of, site_starts
from tests.oracle.lives import BEARING, Plant

STOPS = ("died_back_whole", "cut_back", "lifted")


def plant_of(lives: list[Plant], label: str | None, entry: Entry) -> Plant | None:
    """The life of a label an entry is about: the one that could bear on most of its days, the older of two alike.

    Where none could, the last that had begun by its last day.
    """
    own = [life for life in lives if life.label == label and life.turns[0].day <= entry.last]
    able = {life.number: _bearing_days(life, entry) for life in own}
    if any(able.values()):
        return max(own, key=lambda life: (able[life.number], -life.number))
    return max(own, key=lambda life: life.number, default=None)


def _bearing_days(life: Plant, entry: Entry) -> int:
    """Days of an entry from the first to the last day on which something could be picked off a plant."""
    nexts = [turn.day for turn in life.turns[1:]] + [FAR]
    stretches = [(turn.day, after) for turn, after in zip(life.turns, nexts, strict=True) if turn.after in BEARING]
    if not stretches:
        return 0
    first = max(entry.first or date.min, min(opens for opens, _ in stretches))
    return max(0, (min(entry.last, max(closes for _, closes in stretches)) - first).days + 1)


def share(amount: float | None, shared_by: int) -> Fraction | None:
    """One label's part of what was taken off several."""
    return None if amount is None else Fraction(amount) / shared_by


def harvest_rows(book: Book, lives: list[Plant]) -> list[Row]:
    """Rows of harvest, with crop_taken (something was picked) and carried (it fell in the season after) beside the
    shown columns."""
    rows = [row for entry in book.entries["harvest"] for row in _taken(book, lives, entry)]
    last: dict[tuple[str, int], date] = {}
    for row in rows:
        if row["crop_taken"] and row["plant"] is not None and _runs_on(rows, lives, row):
            own = row["plant"], row["season"]
            last[own] = max(row["on"], last.get(own, row["on"]))
    closes = {own: _closes_on(rows, lives, own, day) for own, day in last.items()}
    for row in rows:
        row["carried"] = row["on"] <= (last if row["crop_taken"] else closes).get(
            (row["plant"], row["season"]), date.min
        )  # fmt: skip
        row["season"] -= row["carried"]
    return rows


def _closes_on(rows: list[Row], lives: list[Plant], own: tuple[str, int], last: date) -> date:
    """The last day on which a look, or what is left for seed, is of a run that was carried over: as long as a picking
    would be. Where the run goes on as one of the new season, its last day in the old one."""
    plant = next(life for life in lives if life.name == own[0])
    crops_on = [row["on"] for row in rows if (row["plant"], row["season"]) == own and row["crop_taken"]]
    later = [day for day in crops_on if day > last]
    if later and _one_run(plant, last, min(later)):
        return last
    stops = [stop for stop in run_stops(plant) if stop >= last]
    days = timedelta(longest_gap_days(plant))
    return min([last + days, season_begins(own[1], plant.starts) + timedelta(59), *stops])


def _taken(book: Book, lives: list[Plant], entry: Entry) -> Iterator[Row]:
    record: Any = entry.record
    for label in entry.labels or (None,):
        plant = plant_of(lives, label, entry)
        on = _day_taken(entry, plant)
        grams, count = (share(getattr(record, name, None), entry.shared_by) for name in ("grams", "count"))
        starts = plant.starts if plant else book.starts_at(getattr(record, "bed", None)) or "01-01"
        yield {
            "plant": plant.name if plant else None, "label": label, "crop": plant.crop if plant else None,
            "season": season_of(on, starts), "event": entry.event, "on": on, "on_from": entry.first,
            "on_to": entry.last, "grams": grams, "count": count, "shared_by": entry.shared_by,
            "use": getattr(record, "use", None), "grade": getattr(record, "grade", None),
            "clearance": getattr(record, "clearance", None), "bed": getattr(record, "bed", None),
            "minutes": share(record.minutes, entry.shared_by), "cost": share(record.cost, entry.shared_by),
            "note": record.note, "record_id": entry.id,
            "crop_taken": entry.event == "picked" and bool(grams if grams is not None else count),
        }  # fmt: skip


def _day_taken(entry: Entry, plant: Plant | None) -> date:
    """The middle of the span, the last day where its start is open; never before the plant began or after it ended."""
    middle = entry.last if entry.first is None else entry.first + (entry.last - entry.first) // 2
    if plant is None:
        return middle
    middle = max(middle, plant.began)
    return min(middle, plant.ended) if plant.ended else middle


def _runs_on(rows: list[Row], lives: list[Plant], row: Row) -> bool:
    """Whether a picking early in a season belongs to a run of picking that began before it and never stopped."""
    plant = next(life for life in lives if life.name == row["plant"])
    boundary = season_begins(season_of(row["on"], plant.starts), plant.starts)
    if row["on"] >= boundary + timedelta(60):
        return False
    days = sorted({other["on"] for other in rows if other["plant"] == plant.name and other["crop_taken"]
                   and other["on"] <= row["on"]})  # fmt: skip
    day = row["on"]
    for earlier in reversed(days[:-1]):
        if not _one_run(plant, earlier, day):
            return False
        day = earlier
        if day < boundary:
            return True
    return False


def _one_run(plant: Plant, earlier: date, later: date) -> bool:
    """Whether two neighbouring pickings are of one run."""
    near = (later - earlier).days <= longest_gap_days(plant)
    return near and not any(earlier <= stop < later for stop in run_stops(plant))


def parted_seasons(rows: list[Row], plant: Plant) -> set[int]:
    """Seasons at whose end or beginning a run of picking is parted, for it went on from the days that count for the
    season before to one that does not."""
    days = {row["on"]: row["season"] for row in rows if row["plant"] == plant.name and row["crop_taken"]}
    return {
        season
        for earlier, later in pairwise(sorted(days))
        if days[earlier] < season_of(earlier, plant.starts) == days[later] and _one_run(plant, earlier, later)
        for season in (days[earlier], days[later])
    }


def longest_gap_days(plant: Plant) -> int:
    """Days between two pickings of one unbroken run."""
    profile = crops.profile(plant.crop or "")
    usual = int(profile.usual_picking_gap_days.value) if profile and profile.usual_picking_gap_days else 7
    return max(21, 3 * usual)


def run_stops(plant: Plant) -> list[date]:
    """Days on which a run of picking ended, whatever came after."""
    return [turn.day for turn in plant.turns if turn.act.act in STOPS]


def flowering_view(book: Book, lives: list[Plant]) -> Iterator[Row]:
    """Rows of flowering."""
    names = (
        "truss", "position", "opened_on", "set_on", "ended_on", "end", "opened", "set", "dropped", "full_size", "note",
    )  # fmt: skip
    for entry in book.entries["flowering"]:
        record: Any = entry.record
        plant = plant_of(lives, record.label, entry)
        yield {name: getattr(record, name, None) for name in names} | {
            "plant": plant.name if plant else None, "label": record.label, "crop": plant.crop if plant else None,
            "season": season_of(entry.last, plant.starts) if plant else None, "event": entry.event,
            "on_from": entry.first, "on_to": entry.last, "record_id": entry.id,
        }  # fmt: skip


def care_view(book: Book, lives: list[Plant]) -> Iterator[Row]:
    """Rows of care."""
    names = (
        "bed", "mm", "what", "cover", "watched_minutes", "visits", "robbed", "cause", "extent", "theta", "depth_cm",
        "crop", "until", "trial", "arm", "by_lot", "block", "note",
    )  # fmt: skip
    for entry in book.entries["care"]:
        record: Any = entry.record
        for label in entry.labels or (None,):
            plant = plant_of(lives, label, entry)
            shares = {name: share(getattr(record, name, None), entry.shared_by)
                      for name in ("litres", "amount_g", "minutes", "cost")}  # fmt: skip
            trusses = getattr(record, "trusses", None)
            yield {name: getattr(record, name, None) for name in names} | shares | {
                "plant": plant.name if plant else None, "label": label, "event": entry.event, "on_from": entry.first,
                "on_to": entry.last, "shared_by": entry.shared_by if label else None,
                "trusses": list(trusses) if trusses else None, "record_id": entry.id,
            }  # fmt: skip


def trial_arms_view(book: Book, lives: list[Plant]) -> Iterator[Row]:
    """Rows of trial_arms."""
    told: dict[tuple[str, str], list[Entry]] = {}
    for entry in book.entries["care"]:
        for label in entry.labels if entry.event == "allotted" else ():
            plant = plant_of(lives, label, entry)
            if plant is not None:
                told.setdefault((plant.name, getattr(entry.record, "trial")), []).append(entry)  # noqa: B009
    for (plant, trial), entries in told.items():
        latest = max(entries, key=lambda entry: (entry.last, entry.id))
        kept = {name: getattr(latest.record, name) for name in ("arm", "block", "by_lot", "note")}
        yield kept | {
            "plant": plant, "label": plant.split("/")[0], "trial": trial,
            "season": season_of(latest.last, next(life.starts for life in lives if life.name == plant)),
            "on_from": latest.first, "on_to": latest.last, "record_id": latest.id, "records": len(entries),
            "changed": len({(e.record.arm, e.record.block) for e in entries}) > 1,  # type: ignore[attr-defined]
        }  # fmt: skip


def sites_view(book: Book) -> Iterator[Row]:
    """Rows of sites."""
    for site in book.sites.values():
        kept = {name: getattr(site, name) for name in ("latitude", "longitude", "elevation_m", "note")}
        identity = book.place_ids["sites", site.name]
        yield kept | {"site": site.name, "season_starts": site_starts(site), "record_id": identity}


def beds_view(book: Book) -> Iterator[Row]:
    """Rows of beds."""
    for bed in book.beds.values():
        kept = {name: getattr(bed, name) for name in ("site", "cover", "area_m2", "container", "soil", "note")}
        yield kept | {"bed": bed.name, "record_id": book.place_ids["beds", bed.name]}


def weather_view(book: Book) -> Iterator[Row]:
    """Rows of weather."""
    names = ("site", "bed", "on", "t_min_c", "t_max_c", "rain_mm", "rh_pct", "wind_m_s", "solar_mj_m2", "note")
    for entry in book.entries["weather"]:
        yield {name: getattr(entry.record, name) for name in names} | {"record_id": entry.id}


def degree_days_view(book: Book, lives: list[Plant]) -> Iterator[Row]:
    """Rows of degree_days: the readings of one place and day are of one lowest and one highest temperature."""
    days: dict[tuple[Any, ...], list[Any]] = {}
    for entry in book.entries["weather"]:
        record: Any = entry.record
        days.setdefault((record.site, record.bed, record.on), []).append(record)
    for crop in {life.crop for life in lives}:
        profile = crops.profile(crop or "")
        if profile is None or profile.base_temperature_c is None:
            continue
        base = profile.base_temperature_c.value
        for (site, bed, on), readings in days.items():
            low = min((reading.t_min_c for reading in readings if reading.t_min_c is not None), default=None)
            high = max((reading.t_max_c for reading in readings if reading.t_max_c is not None), default=None)
            warmth = None if low is None or high is None else max(0.0, (low + high) / 2 - base)
            yield {"site": site, "bed": bed, "crop": crop, "on": on, "base_c": base,
                   "t_min_c": low, "t_max_c": high, "degree_days": warmth}  # fmt: skip


def seed_view(book: Book, lives: list[Plant]) -> Iterator[Row]:
    """Rows of seed."""
    names = ("label", "lot", "grams", "count", "sown", "germinated", "note")
    for entry in book.entries["seed"]:
        record: Any = entry.record
        plant = plant_of(lives, getattr(record, "label", None), entry)
        yield {name: getattr(record, name, None) for name in names} | {
            "plant": plant.name if plant else None, "event": entry.event, "on_from": entry.first, "on_to": entry.last,
            "record_id": entry.id,
        }  # fmt: skip
