"""Seasons of a plant's life in which its crop is not due yet, by the crop's profile."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from perennia import crops

if TYPE_CHECKING:
    from perennia.crops import CropProfile


def too_young(compared: Iterable[str], profiles: Mapping[str, CropProfile] | None) -> Iterator[str]:
    """A caution for each crop of which plants in their first season are held against older ones before it is due.

    profiles: those in force; None for the shipped ones.
    """
    for crop in sorted(set(compared)):
        profile = crops.profile(crop, profiles)
        due = None if profile is None else profile.first_crop_season
        if due is not None and due.value > 1:
            yield (
                f"{crop}: in its first season no crop is due, for it first crops in plant season {due.value:g} "
                f"({due.source}); more in a later season than in the first is growing up, and does not show that old "
                "plants beat young ones."
            )
