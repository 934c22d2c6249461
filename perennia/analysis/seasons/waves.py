"""Waves of a daily rate: where it rises and falls clearly, a missed or doubled picking notwithstanding."""

from __future__ import annotations

from itertools import pairwise

import attrs
import numpy as np

from perennia.analysis.permutation import Floats, Integers

WIDTH = 1.5
"""Standard deviation of the smoothing kernel in usual gaps, such that in an even crop two gaps of nothing make no
valley and three do."""
FALL = 0.5
"""Two waves are told apart where the smoothed rate between them falls to this share of the lower peak."""
LEAST_SHARE = 0.1
"""What holds less of the season's crop belongs to a neighbour."""
WIDEST = 4
"""Usual gaps that a stretch without a picking or look may last, if it gathered as much as a flush must hold."""
LEAST_PICKINGS = 5
_LEVEL = 0.01
"""Days within this share of the highest are its plateau."""


@attrs.frozen
class Wave:
    """One wave. start, stop: first and last place of its share of the days; rises, falls: first and last place of those
    at half its peak or more; peak: its highest place; amount: crop from start to stop."""

    start: int
    stop: int
    rises: int
    peak: int
    falls: int
    amount: float


def usual_gap(visits: Integers, crop_gap_days: float) -> float:
    """The gap that a season is read by: the crop's usual one, or the season's own middle one where that is longer."""
    return max(crop_gap_days, float(np.median(np.diff(visits)))) if len(visits) > 1 else crop_gap_days


def cannot_tell(per_day: Floats, visits: Integers, pickings: int, crop_gap_days: float) -> str | None:
    """Why the waves of a season cannot be told, or None."""
    if pickings < LEAST_PICKINGS:
        return f"fewer than {LEAST_PICKINGS} pickings"
    gap = usual_gap(visits, crop_gap_days)
    if gap > WIDEST * crop_gap_days:
        return f"picked at gaps of over {WIDEST} times the crop's usual one"
    before, total = 0, per_day.sum()
    for visit in visits.tolist():
        if visit + 1 - before > WIDEST * gap and per_day[before : visit + 1].sum() >= LEAST_SHARE * total:
            return f"a tenth of the crop or more gathered over a gap of more than {WIDEST} usual ones"
        before = visit + 1
    return None


def waves(per_day: Floats, gap_days: float, *, running: bool) -> list[Wave]:
    """The waves of a daily rate, in the order of days; at least one. gap_days as of usual_gap.

    running: the rate beyond the last day is not known, rather than 0.
    """
    smooth = smoothed(per_day, WIDTH * gap_days, running=running)
    cuts = _without_small(per_day, smooth, _clear_valleys(smooth))
    bounds = [0, *(cut + 1 for cut in cuts), len(per_day)]
    return [_wave(per_day, smooth, start, stop - 1) for start, stop in pairwise(bounds)]


def smoothed(per_day: Floats, deviation_days: float, *, running: bool) -> Floats:
    """The rate under a normal kernel, which makes no new peaks (Witkin 1983, Scale-space filtering; from memory).

    Before the first day the rate is 0, and after the last, unless running: then only the days there are count.
    """
    reach = max(1, round(4 * deviation_days))
    offsets = np.arange(-reach, reach + 1)
    kernel = np.exp(-0.5 * (offsets / deviation_days) ** 2)
    kernel /= kernel.sum()
    smooth = np.convolve(per_day, kernel)[reach : reach + len(per_day)]
    if running:
        ahead = np.minimum(2 * reach, reach + np.arange(len(per_day))[::-1])
        smooth = smooth / np.cumsum(kernel)[ahead]
    return smooth


def _clear_valleys(smooth: Floats) -> list[int]:
    """Places of the valleys that part waves; the shallowest of the others are filled first."""
    peaks, valleys = _turns(smooth)
    while valleys:
        depths = [
            smooth[valley] / min(smooth[left], smooth[right])
            for valley, (left, right) in zip(valleys, pairwise(peaks), strict=True)
        ]
        shallowest = int(np.argmax(depths))
        if depths[shallowest] <= FALL:
            break
        del valleys[shallowest]
        pair = peaks[shallowest : shallowest + 2]
        peaks[shallowest : shallowest + 2] = [max(pair, key=lambda place: smooth[place])]
    return valleys


def _turns(smooth: Floats) -> tuple[list[int], list[int]]:
    """Places of all peaks, and of the valley between each and the next (the middle of its lowest days)."""
    steps = np.sign(np.diff(smooth, prepend=-1.0, append=-1.0))
    # on a plateau the step before goes on
    for place in np.flatnonzero(steps == 0):
        steps[place] = steps[place - 1]
    peaks = np.flatnonzero((steps[:-1] > 0) & (steps[1:] < 0)).tolist()
    valleys = []
    for left, right in pairwise(peaks):
        between = smooth[left : right + 1]
        lowest = np.flatnonzero(between == between.min())
        valleys.append(left + int(lowest[len(lowest) // 2]))
    return peaks, valleys


def _without_small(per_day: Floats, smooth: Floats, cuts: list[int]) -> list[int]:
    """The cuts that leave every wave its least share; the smallest wave goes first, over the higher of its valleys."""
    cuts = list(cuts)
    while cuts:
        amounts = [float(part.sum()) for part in np.split(per_day, np.array(cuts) + 1)]
        smallest = int(np.argmin(amounts))
        if amounts[smallest] >= LEAST_SHARE * per_day.sum():
            break
        beside = [place for place in (smallest - 1, smallest) if 0 <= place < len(cuts)]
        del cuts[max(beside, key=lambda place: smooth[cuts[place]])]
    return cuts


def _wave(per_day: Floats, smooth: Floats, start: int, stop: int) -> Wave:
    own = smooth[start : stop + 1]
    high = np.flatnonzero(own >= FALL * own.max())
    return Wave(
        start=start, stop=stop, rises=start + int(high[0]), peak=start + _top(own), falls=start + int(high[-1]),
        amount=float(per_day[start : stop + 1].sum()),
    )  # fmt: skip


def _top(own: Floats) -> int:
    """The middle of the plateau round the highest day."""
    highest = first = last = int(np.argmax(own))
    level = (1 - _LEVEL) * own[highest]
    while first > 0 and own[first - 1] >= level:
        first -= 1
    while last + 1 < len(own) and own[last + 1] >= level:
        last += 1
    return (first + last) // 2
