"""What a grower writes down: one frozen attrs class an event."""

from perennia.records.base import Record
from perennia.records.care import (
    Allotted,
    Covered,
    Damage,
    Fed,
    HandPollinated,
    Neighbour,
    Noted,
    SoilMoisture,
    Uncovered,
    Visits,
    Watered,
)
from perennia.records.flowering import FlowerFate, TrussCount
from perennia.records.harvest import BooksKept, LeftForSeed, Picked
from perennia.records.life import (
    Acquired,
    AlreadyHere,
    Counted,
    CutBack,
    CuttingTaken,
    Died,
    DiedBack,
    Divided,
    Emerged,
    Flowered,
    Lifted,
    Moved,
    Mulched,
    Planted,
    Regrew,
    Removed,
    Replanted,
    Sown,
    StoreChecked,
    Stored,
)
from perennia.records.places import Bed, Site
from perennia.records.seed import GerminationTest, SeedSaved
from perennia.records.spans import Span
from perennia.records.weather import Weather

__all__ = [
    "Acquired", "Allotted", "AlreadyHere", "Bed", "BooksKept", "Counted", "Covered", "CutBack", "CuttingTaken",
    "Damage", "Died", "DiedBack", "Divided", "Emerged", "Fed", "FlowerFate", "Flowered", "GerminationTest",
    "HandPollinated", "LeftForSeed", "Lifted", "Moved", "Mulched", "Neighbour", "Noted", "Picked", "Planted", "Record",
    "Regrew", "Removed", "Replanted", "SeedSaved", "Site", "SoilMoisture", "Sown", "Span", "StoreChecked", "Stored",
    "TrussCount", "Uncovered", "Visits", "Watered", "Weather",
]  # fmt: skip
