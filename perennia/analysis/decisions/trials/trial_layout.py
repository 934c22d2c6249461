"""A trial laid out by lot: places in blocks within beds, every block holding the arms in the same proportion.

The lot is drawn with the raw numbers of the PCG64 generator (O'Neill 2014), which NumPy keeps the same for a seed
whatever its version (NEP 19): within a block, places are put in the order of their numbers and the arms dealt out in
turn. Blocks and their reason: Fisher 1935, The Design of Experiments, chapter 4.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import attrs
import numpy as np

from perennia.analysis.decisions.trials.power import Sizes
from perennia.analysis.permutation import Integers
from perennia.errors import AnalysisError

Arms = tuple[str, str]
METHOD = (
    "within each block the places were put in the order of raw PCG64 numbers (numpy, seeded) and the arms dealt out "
    "in turn; labels were drawn to the places of their arm in the same way"
)


@attrs.frozen
class Block:
    """A block of a bed. sets: how often it can hold every arm in proportion."""

    bed: str
    sets: int


@attrs.frozen
class Place:
    """One place of a bed, counted from 1. block and arm are missing where it is left over, label where not known."""

    bed: str
    block: str | None
    place: int
    arm: str | None
    label: str | None = None


def blocks_of(beds: Mapping[str, int], allocation: tuple[int, int], block_size: int | None) -> tuple[Block, ...]:
    """The blocks that fit into beds of so many places; unless a size is given, a bed is one.

    The last block of a bed may be smaller. Raises AnalysisError for a bed too small for both arms, which would be
    confounded with the one it held, and for a size that does not hold every arm in proportion.
    """
    one_set = sum(allocation)
    if block_size is not None and (block_size < one_set or block_size % one_set):
        raise AnalysisError(
            f"a block of {block_size} places cannot hold the arms as {allocation[0]} to {allocation[1]}; give a "
            f"multiple of {one_set}"
        )
    blocks: list[Block] = []
    for bed, places in beds.items():
        sets = places // one_set
        if sets == 0:
            raise AnalysisError(
                f"bed {bed} has {places} of the {one_set} places that both arms need: it would hold one arm only, and "
                "nobody could tell that arm from the bed; leave the bed out or give it more places"
            )
        each = sets if block_size is None else block_size // one_set
        whole, rest = divmod(sets, each)
        blocks += [Block(bed, size) for size in [each] * whole + [rest] * (rest > 0)]
    return tuple(blocks)


def sets_in(blocks: Sequence[Block], sets: int) -> list[int]:
    """How many sets go into each block, spread over the beds as evenly as they hold them, blocks filled one by one."""
    room = dict.fromkeys((block.bed for block in blocks), 0)
    for block in blocks:
        room[block.bed] += block.sets
    taken = dict.fromkeys(room, 0)
    for _ in range(sets):
        # the emptiest bed, the first of equals
        taken[min((bed for bed in room if taken[bed] < room[bed]), key=taken.__getitem__)] += 1
    filled = []
    for block in blocks:
        filled.append(min(block.sets, taken[block.bed]))
        taken[block.bed] -= filled[-1]
    return filled


def sizes_in(blocks: Sequence[Block], sets: int, allocation: tuple[int, int]) -> Sizes:
    """Units of both arms in each block that holds any; more sets than fit are thought of in as many beds again."""
    rounds, rest = divmod(sets, sum(block.sets for block in blocks))
    filled = [block.sets for _ in range(rounds) for block in blocks] + sets_in(blocks, rest)
    return tuple((allocation[0] * own, allocation[1] * own) for own in filled if own)


def lay_out_places(
    beds: Mapping[str, int], blocks: Sequence[Block], sets: int, arms: Arms, allocation: tuple[int, int], seed: int
) -> list[Place]:
    """Every place of every bed, the first of them in blocks with an arm drawn by lot, those left over without.

    Blocks are numbered through the trial.
    """
    random = np.random.PCG64(np.random.SeedSequence([seed, 0]))
    of_bed: dict[str, list[Place]] = {bed: [] for bed in beds}
    used = [(block.bed, own) for block, own in zip(blocks, sets_in(blocks, sets), strict=True) if own]
    for number, (bed, own) in enumerate(used, start=1):
        dealt = [arm for arm, share in zip(arms, allocation, strict=True) for _ in range(share * own)]
        order = _drawn(random, len(dealt))
        arm_at = dict(zip(order.tolist(), dealt, strict=True))
        begin = len(of_bed[bed])
        of_bed[bed] += [Place(bed, str(number), begin + at + 1, arm_at[at]) for at in range(len(dealt))]
    for bed, places in beds.items():
        of_bed[bed] += [Place(bed, None, at + 1, None) for at in range(len(of_bed[bed]), places)]
    return [place for bed in beds for place in of_bed[bed]]


def with_labels(places: Sequence[Place], labels: Mapping[str, Sequence[str]], seed: int) -> list[Place]:
    """The places with labels drawn by lot to those of their arm; where there are more labels, the lot picks them."""
    drawn: dict[str | None, Iterator[str]] = {}
    for number, arm in enumerate(sorted(labels)):
        random = np.random.PCG64(np.random.SeedSequence([seed, 1, number]))
        given = sorted(labels[arm])
        drawn[arm] = iter([given[at] for at in _drawn(random, len(given))])
    return [attrs.evolve(place, label=next(drawn.get(place.arm, iter(())), None)) for place in places]


def _drawn(random: np.random.PCG64, places: int) -> Integers:
    """A random order of so many."""
    return np.argsort(np.asarray(random.random_raw(places), dtype=np.uint64).reshape(places), kind="stable")
