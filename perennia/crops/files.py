"""Profiles out of TOML files: those shipped, and a grower's own laid over them."""

from __future__ import annotations

import difflib
import stat
import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from importlib import resources
from pathlib import Path
from types import GenericAlias
from typing import Any, Literal, get_args, get_origin

import attrs
import cattrs

from perennia.crops.figures import CropProfile
from perennia.errors import ArgumentError, IntakeError


@cache
def shipped() -> dict[str, CropProfile]:
    """The profiles of the package by botanical name, in alphabetical order."""
    return {crop: _CONVERTER.structure(table, CropProfile) for crop, table in _shipped_tables().items()}


def given(folder: str | Path) -> list[Path]:
    """The files of a folder that someone named as theirs, which must be there and hold some."""
    if not isinstance(folder, str | Path):
        raise ArgumentError(f"a folder of profiles is given as a path, not as {type(folder).__name__}")
    path = Path(folder)
    listed = _toml_files(path)
    if listed is None:
        raise IntakeError(f"{path} is not a folder; give the folder that holds your crop profiles as .toml files")
    if not listed:
        raise IntakeError(f"{path} holds no .toml file; a crop profile is one .toml file a crop")
    return listed


def kept(folder: Path) -> list[Path]:
    """The files of a garden's folder of profiles, none where there is no such folder."""
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise IntakeError(
            f"{folder} is no folder of the garden; make it one that holds your crop profiles as .toml files, no link"
        )
    return _toml_files(folder) or []


def overlaid(paths: Iterable[Path]) -> dict[str, CropProfile]:
    """The shipped profiles with those of the files laid over them, as crops.read_profiles says."""
    found = dict(shipped())
    read_from: dict[str, Path] = {}
    for path in paths:
        table = _read(path)
        crop = _crop_of(table, path)
        if crop in read_from:
            raise IntakeError(
                f"{path}, crop: {crop} has a profile in {read_from[crop].name} already; keep one file a crop"
            )
        read_from[crop] = path
        found[crop] = _structured(_over_shipped(table, crop), path)
    return dict(sorted(found.items()))


def plain_name(crop: str) -> str:
    """The name a profile is kept under, with the sign of a hybrid written x."""
    return crop.replace("×", "x")


@cache
def _shipped_tables() -> dict[str, dict[str, Any]]:
    files = [file for file in resources.files("perennia.crops").iterdir() if file.name.endswith(".toml")]
    tables = [tomllib.loads(file.read_text(encoding="utf-8")) for file in files]
    return {table["crop"]: table for table in sorted(tables, key=lambda table: str(table["crop"]))}


def _toml_files(folder: Path) -> list[Path] | None:
    """The .toml files of a folder by name, or None where it is no folder."""
    try:
        if not folder.is_dir():
            return None
        # an editor keeps marks of its own beside a file, under its name with a point before it
        return sorted(
            file for file in folder.iterdir() if file.suffix.lower() == ".toml" and not file.name.startswith(".")
        )
    except OSError as error:
        raise IntakeError(f"{folder} cannot be read ({error.strerror}); make it readable or take it away") from error


def _read(path: Path) -> dict[str, Any]:
    try:
        # a link could lead out of the folder, and what is no file may never end
        if not stat.S_ISREG(path.lstat().st_mode):
            raise IntakeError(f"{path} is no plain file; put the file itself there, no link and no folder")
        # an editor may have put a byte-order mark before the text
        return tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except OSError as error:
        raise IntakeError(f"{path} cannot be read ({error.strerror}); make it readable or take it away") from error
    except UnicodeDecodeError as error:
        raise IntakeError(f"{path} is not text in UTF-8; save it as UTF-8") from error
    except (ValueError, RecursionError) as error:
        raise IntakeError(
            f"{path} is not TOML ({error}); write text in quotes and a figure as {_FIGURE_EXAMPLE}"
        ) from error


def _crop_of(table: Mapping[str, Any], path: Path) -> str:
    crop = table.get("crop")
    if not isinstance(crop, str) or not crop.strip():
        raise IntakeError(
            f'{path}, crop: a profile needs its botanical name as text, as in crop = "Phaseolus coccineus"'
        )
    return plain_name(crop.strip())


def _over_shipped(table: dict[str, Any], crop: str) -> dict[str, Any]:
    """A grower's fields in place of the shipped ones, except that no shipped caution is ever taken away."""
    base = _shipped_tables().get(crop, {})
    whole = {**base, **table, "crop": crop}
    own = table.get("cautions", [])
    if isinstance(own, list):
        whole["cautions"] = [*own, *(caution for caution in base.get("cautions", []) if caution not in own)]
    return whole


def _structured(table: dict[str, Any], path: Path) -> CropProfile:
    try:
        return _CONVERTER.structure(table, CropProfile)
    except cattrs.BaseValidationError as error:
        raise IntakeError("\n  ".join(_faults(error, path))) from error


def _faults(error: cattrs.BaseValidationError, path: Path) -> list[str]:
    """A line a fault: file, field, what is wrong and what would be right."""
    lines = []
    for fault in cattrs.transform_error(error, "$", _wrong):
        wrong, _, place = fault.rpartition(" @ $")
        where = place.lstrip(".")
        lines.append(f"{path}, {where}: {wrong}" if where else f"{path}: {wrong}")
    return lines


def _wrong(error: BaseException, kind: type | None) -> str:
    if isinstance(error, cattrs.ForbiddenExtraKeysError):
        return _unknown_fields(error)
    if isinstance(error, KeyError):
        return f"is missing; {_right(kind)}"
    if kind is None or isinstance(error, _PlainError):
        return str(error)
    return f"is of the wrong kind; {_right(kind)}"


def _right(kind: Any) -> str:
    if get_origin(kind) is Literal:
        return "write " + " or ".join(f'"{choice}"' for choice in get_args(kind))
    # a field that may be missing is read as the kind it has when it is there
    kinds = [part for part in get_args(kind) if part is not type(None)] or [kind]
    name = getattr(kinds[0], "__name__", "")
    return _EXAMPLES.get("list" if get_origin(kind) is tuple else name, "see the shipped profiles for its form")


def _unknown_fields(error: cattrs.ForbiddenExtraKeysError) -> str:
    known = [attribute.name for attribute in attrs.fields(error.cl)]
    sentences = []
    for name in sorted(error.extra_fields):
        close = difflib.get_close_matches(name, known, n=1)
        right = f"did you mean {close[0]}?" if close else f"the fields are {', '.join(known)}"
        sentences.append(f"there is no field {name}; {right}")
    return "; ".join(sentences)


class _PlainError(ValueError):
    """A fault that says already what would be right."""


def _number(value: object, _: type) -> float:
    # neither text nor true or false is quietly made a number
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _PlainError(f"{value!r} is not a number; write a number without quotes, with a decimal point")
    try:
        return float(value)
    except OverflowError as error:
        raise _PlainError("the number is too large; write one that a plant can reach") from error


def _text(value: object, _: type) -> str:
    if not isinstance(value, str):
        raise _PlainError(f"{value!r} is not text; put it in quotes")
    return value


def _is_tuple(kind: Any) -> bool:
    origin: Any = get_origin(kind)
    return origin is tuple


def _converter() -> cattrs.Converter:
    converter = cattrs.Converter(forbid_extra_keys=True)

    def listed(value: object, kind: Any) -> tuple[Any, ...]:
        # text is a sequence too, and would be taken letter by letter
        if not isinstance(value, list):
            raise _PlainError(f"{value!r} is not a list; {_right(kind)}")
        listing: Any = GenericAlias(list, (get_args(kind)[0],))
        return tuple(converter.structure(value, listing))

    converter.register_structure_hook(float, _number)
    converter.register_structure_hook(str, _text)
    converter.register_structure_hook_func(_is_tuple, listed)
    return converter


_FIGURE_EXAMPLE = '{ value = 3, source = "my own book" }'
_EXAMPLES = {
    "Figure": f"write {_FIGURE_EXAMPLE}",
    "MonthDay": 'write { value = "06-15", source = "my own book" }',
    "StageCoefficients": "write a table with initial, mid and end, a value and a source each",
    "StageDays": "write a table with initial, development, mid and late, a value and a source each",
    "Caution": "write a [[cautions]] table with text and source",
    "list": 'write a list in brackets, as in ["rhubarb"]; cautions are [[cautions]] tables with text and source',
    "str": "write text in quotes",
    "float": "write a number",
}
_CONVERTER = _converter()
