"""Bytes that are on the disk before anyone is told so."""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterable
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

ROWS_A_GROUP = 131_072
"""Rows of a row group, the least that is read of a file."""


def fsync_file(path: Path) -> None:
    """Wait until the file's bytes are on the disk."""
    descriptor = os.open(path, os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def fsync_folder(path: Path) -> None:
    """Wait until the folder's entries are on the disk. Windows has no such call, and keeps them in its journal."""
    if os.name == "nt":
        return
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def write_parquet(path: Path, schema: pa.Schema, tables: Iterable[pa.Table]) -> int:
    """Write tables of one schema to a new Parquet file, wait for the disk, and give its size in bytes.

    The folder entry is not waited for: the caller does that once for all files of a folder.
    """
    # ids and hashes all differ and look random: no dictionary and no compression makes them smaller,
    # and the least and the greatest of a row group rule out none
    kinds = {field.name: field.type for field in schema}
    compression = {name: "none" if pa.types.is_binary(kind) else "zstd" for name, kind in kinds.items()}
    repeating = [name for name, kind in kinds.items() if not pa.types.is_binary(kind)]
    with pq.ParquetWriter(
        path, schema, compression=compression, use_dictionary=repeating, write_statistics=repeating
    ) as file:
        for table in tables:
            file.write_table(table, ROWS_A_GROUP)
    fsync_file(path)
    return path.stat().st_size


def write_text(path: Path, text: str) -> None:
    """Put a small text file in place whole, or not at all."""
    unfinished = path.with_name(f".{path.name}.{uuid.uuid4().hex}")
    unfinished.write_text(text, encoding="utf-8")
    fsync_file(unfinished)
    unfinished.replace(path)
    fsync_folder(path.parent)


def has_hard_links(folder: Path) -> bool:
    """Whether the folder's file system knows hard links (FAT and some network drives do not)."""
    first, second = (folder / f".link-{uuid.uuid4().hex}" for _ in range(2))
    first.touch()
    try:
        os.link(first, second)
    except OSError:
        return False
    finally:
        first.unlink(missing_ok=True)
        second.unlink(missing_ok=True)
    return True
