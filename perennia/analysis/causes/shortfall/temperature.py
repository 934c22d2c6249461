"""Hot and cold nights and days before flowers opened, from the weather of the bed or of its site."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

import attrs
import pandas as pd

from perennia import crops
from perennia.analysis.causes.daily_weather import daily_weather
from perennia.analysis.causes.shortfall.asked import UNDATED, Asked
from perennia.analysis.causes.shortfall.evidence import Evidence, by_opening_day
from perennia.checking.words import counted
from perennia.crops import CropProfile, Figure

if TYPE_CHECKING:
    from perennia.source import Source

LOOK_BACK_DAYS = 10
"""Days before opening in which heat or cold tells: buds are most sensitive from about six days before they open (two
days of 35 degrees C in common bean, by an abstract whose authors are not kept); ten days: own rule."""
HOT_AT_LEAST = 3
"""Hot days or nights among them from which a flower counts as opened after heat: more than two nights, as Which?
Gardening has it of runner beans."""
COLD_AT_LEAST = 1
"""Cold nights among them from which one counts as opened after cold (own rule, no source)."""
_COVERED = ("tunnel", "glasshouse", "indoors")
WARMER_INSIDE = (
    "they stood under cover, where days are hotter than outside (by 4.2 degrees C in a plastic tunnel, Savage 1980, "
    "Agrochemophysica), and the weather on record is from outside"
)
LESS_COLD_INSIDE = (
    "they stood under cover, where nights are less cold than outside (by 1.3 degrees C in a plastic tunnel, Savage "
    "1980, Agrochemophysica), and the weather on record is from outside"
)


@attrs.frozen(eq=False)
class _Weather:
    """Daily weather, of a bed or a site, and whether it is of the air the plants stood in."""

    days: pd.DataFrame
    place: str
    inside: bool


def heat_evidence(source: Source, asked: Asked) -> Evidence:
    """Nights or days hotter than the crop's profile holds good for setting."""
    profile = crops.profile(asked.crop, source.profiles)
    night, day = (profile and profile.setting_night_max_c), (profile and profile.setting_day_max_c)
    limits = [f"{words} above {figure.value:g} degrees C"
              for words, figure in (("nights", night), ("days", day)) if figure]  # fmt: skip

    def hot(weather: pd.DataFrame) -> pd.Series[bool]:
        beyond = pd.Series(False, index=weather.index)
        if night:
            beyond |= weather["t_min_c"] > night.value
        if day:
            beyond |= weather["t_max_c"] > day.value
        return beyond

    needed = [name for name, figure in (("t_min_c", night), ("t_max_c", day)) if figure]
    return _judged(source, asked, profile, limits, hot, needed, HOT_AT_LEAST, "hot")


def cold_evidence(source: Source, asked: Asked) -> Evidence:
    """Nights colder than the crop's profile holds good for setting."""
    profile = crops.profile(asked.crop, source.profiles)
    night: Figure | None = profile.setting_night_min_c if profile else None
    limits = [f"nights below {night.value:g} degrees C"] if night else []

    def cold(weather: pd.DataFrame) -> pd.Series[bool]:
        return weather["t_min_c"] < night.value if night else pd.Series(False, index=weather.index)

    return _judged(source, asked, profile, limits, cold, ["t_min_c"], COLD_AT_LEAST, "cold")


def _judged(
    source: Source, asked: Asked, profile: CropProfile | None, limits: list[str],
    beyond: Callable[[pd.DataFrame], pd.Series[bool]], needed: list[str], at_least: int, word: str,
) -> Evidence:  # fmt: skip
    if not limits:
        what = "no profile" if profile is None else f"no figure of what is too {word} for setting in its profile"
        return Evidence("not recorded", unknown=(f"{asked.crop} has {what}; a profile of your own may give one",))
    if not asked.flowering:
        return Evidence("not recorded", unknown=(asked.days_from,))
    weathers = _weathers_of(source, asked)
    if not weathers:
        where = "their bed or site" if asked.site else "the sites they stood at, which are several or not recorded,"
        return Evidence("not recorded", unknown=(f"no weather of {where} is on record",))
    # that of the bed, unless the site's tells of more days
    found = [(one, *_exposed(one.days, asked.flowering, beyond, needed, at_least)) for one in weathers]
    weather, known, exposed = max(found, key=lambda one: (len(one[1]), one[0].inside))
    unknown = _unknown(asked, len(known))
    outside = not weather.inside and _under_cover(asked)
    if outside and word == "hot":
        unknown.append(WARMER_INSIDE)
    if not known:
        return Evidence("not recorded", unknown=tuple(unknown))
    rule = f"{' or '.join(limits)}; weather of {weather.place}"
    if not exposed:
        text = f"none of {counted(len(known), 'day')} known followed {word} weather ({rule})"
        return Evidence("in part" if unknown else "not seen", told_against=(text,), unknown=tuple(unknown))
    split = by_opening_day(asked, exposed)
    words = f"{at_least} {word} days or nights or more" if at_least > 1 else f"a {word} night or more"
    text = f"{len(exposed)} of {counted(len(known), 'day')} followed {words} within {LOOK_BACK_DAYS} days ({rule})"
    if split.there + split.elsewhere:
        text += f"; {split.words('opened then', 'opened at other times')}"
    if outside and word == "cold":
        # a cold night outside is not one under the cover
        return Evidence("in part", "no contrast", (text,), (), (*unknown, LESS_COLD_INSIDE))
    if split.contrast == "no fewer set":
        return Evidence("seen", split.contrast, (), (text,), tuple(unknown))
    return Evidence("seen", split.contrast, (text,), (), tuple(unknown), frozenset(exposed))


def _unknown(asked: Asked, known: int) -> list[str]:
    days = len(asked.flowering)
    said = [f"weather not known of the {LOOK_BACK_DAYS} days before {counted(days - known, 'day')} of {days} on which "
            f"{asked.days_from}"] if known < days else []  # fmt: skip
    return said + ([] if asked.dated else [UNDATED])


def _exposed(
    weather: pd.DataFrame, opened: Sequence[date], beyond: Callable[[pd.DataFrame], pd.Series[bool]], needed: list[str],
    at_least: int,
) -> tuple[list[date], set[date]]:  # fmt: skip
    """Days of opening whose look-back is known, or is enough as far as it is known, and those that were exposed."""
    flags = beyond(weather)
    whole = weather[needed].notna().all(axis=1)
    known, exposed = [], set()
    for day in opened:
        span = pd.date_range(day - timedelta(LOOK_BACK_DAYS), day, unit="s")
        inside = flags.reindex(span, fill_value=False)
        if int(inside.sum()) >= at_least:
            known.append(day)
            exposed.add(day)
        elif bool(whole.reindex(span, fill_value=False).all()):
            known.append(day)
    return known, exposed


def _weathers_of(source: Source, asked: Asked) -> list[_Weather]:
    """The weather taken in their bed, where they stood in one, and that of their site."""
    found = []
    if len(asked.beds) == 1:
        bed = asked.beds[0]
        found.append(_Weather(daily_weather(source, bed=bed), f"the bed {bed}", True))
    if asked.site is not None:
        found.append(_Weather(daily_weather(source, site=asked.site), f"the site {asked.site}", False))
    return [one for one in found if not one.days.empty]


def _under_cover(asked: Asked) -> bool:
    return any(row["cover"] in _COVERED for row in asked.rows)
