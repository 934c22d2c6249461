"""Garden: the one door to a grower's records. It stores and fetches, and computes nothing."""

from __future__ import annotations

import threading
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date
from functools import partial
from pathlib import Path
from types import MappingProxyType, TracebackType
from typing import Any, Literal, Self, overload

import attrs
import duckdb
import pandas as pd
import pyarrow as pa

from perennia import crops
from perennia.checking import Doubt, arguments
from perennia.checking.shape import well_formed
from perennia.checking.storing import Change, store_batch
from perennia.checking.words import nearest
from perennia.crops import CropProfile
from perennia.errors import ArgumentError, Problem, ReadOnlyError, RefusedError, UnknownLabelError
from perennia.queries import catalogue
from perennia.queries.connection import RECORD_TABLES, counting_corrections, counting_rows, stored_sizes
from perennia.queries.door import run_isolated, run_select
from perennia.queries.fetching import entries_of, lives_of, view_rows
from perennia.queries.frames import shaped, to_pandas
from perennia.queries.opening import Opened, Seen, keep, named_in, opened, opened_for, opened_on
from perennia.records import Record
from perennia.source import As
from perennia.store.access import disk_allows
from perennia.store.compaction import compact
from perennia.store.corrected import Fate
from perennia.store.identify import identified, stored_record, what_became
from perennia.store.parts import ids_of, records_of
from perennia.store.schemas import from_rows, to_tables
from perennia.store.snapshot import Snapshot, garden_facts, read_snapshot
from perennia.store.writing import create_store, writer

Params = Sequence[Any] | Mapping[str, Any] | None


@attrs.frozen
class Receipt:
    """What became of a batch.

    batch is its number (that of the last one when nothing was new); record_ids one id a record given, 32 hexadecimal
    digits, in their order; stored and already_known count records; doubts is what the grower should look at.
    """

    batch: int
    record_ids: Sequence[str]
    stored: int
    already_known: int
    doubts: tuple[Doubt, ...]


class Garden:
    """A grower's records in one folder.

    Open one with Garden.create or Garden.open. What is read is the garden as it stood when it was opened, last
    refreshed, or last written to through this object; every query between two of these sees the same records.

    A grower's own crop profiles lie in the folder crops within it, one TOML file a crop, and are laid over the shipped
    ones (perennia.crops). They are read when the garden is opened or refreshed, are today's whatever as_of says, and
    nothing perennia does changes that folder.
    """

    def __init__(self, path: Path, seen: Seen, *, read_only: bool) -> None:
        self._path = path
        self._seen = seen
        self._read_only = read_only
        self._opened: Opened | None = None
        # one connection answers one question at a time
        self._lock = threading.RLock()

    # ------------------------------------------------------------------ opening and closing

    @classmethod
    def create(cls, path: str | Path, *, name: str | None = None) -> Self:
        """Make a garden in the folder path, which is new or empty.

        name: what the garden is called, if anything. Raises StoreError when the folder holds anything.
        """
        folder = _folder(path)
        named = None if name is None else arguments.a_name(name, "the garden's name")
        with disk_allows(folder):
            return cls(folder, Seen(create_store(folder, named), crops.in_force(folder)), read_only=False)

    @classmethod
    def open(
        cls, path: str | Path, *, read_only: bool = False, as_of: date | str | None = None,
        memory_limit: str | None = None,
    ) -> Self:  # fmt: skip
        """Open the garden in the folder path.

        as_of (a day, of which the end is meant, a datetime, or ISO text; without a zone it is UTC) shows what the books
        said at that instant, from the times records and corrections were made, and implies read_only.
        memory_limit is the most memory its queries may take, such as ``512MB``, 800 MB unless given; what does not fit
        goes to the disk.
        Raises StoreError when the folder is no garden; IntakeError, naming file, field and what would be right, when a
        crop profile in its folder crops is wrong.
        """
        instant = arguments.an_instant(as_of)
        limit = None if memory_limit is None else arguments.a_memory_size(memory_limit, "memory_limit")
        folder = _folder(path)
        with disk_allows(folder):
            seen = Seen(read_snapshot(folder), crops.in_force(folder), as_of=instant, memory_limit=limit)
        return cls(folder, seen, read_only=read_only or instant is not None)

    def up_to(self, day: date | str) -> Garden:
        """The same garden as if its books ended with that day, to be read only: what happened later is not seen.

        It goes by the days of the records, as_of by when they were written. What is dated by a span is seen from the
        first day of it on, of a flower what had been seen of it. Raises ArgumentError for what is no day.
        """
        last = arguments.a_day(day, "day")
        if last is None:
            raise ArgumentError("day is None; give a day such as 2024-07-15")
        until = last if self._seen.until is None else min(last, self._seen.until)
        return type(self)(self._path, attrs.evolve(self._seen, until=until), read_only=True)

    @property
    def path(self) -> Path:
        """The garden's folder."""
        return self._path

    @property
    def name(self) -> str | None:
        """The name given when the garden was made, if any."""
        name = garden_facts(self._path).get("name")
        return None if name is None else str(name)

    @property
    def profiles(self) -> Mapping[str, CropProfile]:
        """The crop profiles in force by botanical name: the shipped ones with the garden's own laid over them."""
        return MappingProxyType(self._seen.profiles)

    def refresh(self) -> None:
        """See what other processes have recorded since, and the crop profiles as they are now.

        Raises as open does, and then goes on as it was.
        """
        with disk_allows(self._path):
            snapshot, profiles = read_snapshot(self._path), crops.in_force(self._path)
        with self._lock:
            if profiles != self._seen.profiles:
                self.close()
                self._seen = attrs.evolve(self._seen, profiles=profiles)
            self._see(snapshot)

    def close(self) -> None:
        """Let go of the connection; the garden opens it again when asked something."""
        with self._lock:
            if self._opened is not None:
                self._opened.connection.close()
            self._opened = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: type[BaseException] | BaseException | TracebackType | None) -> None:
        self.close()

    def __repr__(self) -> str:
        seen = self._seen
        as_of = f", as_of={seen.as_of.isoformat()!r}" if seen.as_of else ""
        until = f", until={seen.until.isoformat()!r}" if seen.until else ""
        return f"Garden({str(self._path)!r}, batch={seen.snapshot.batch}{as_of}{until})"

    # ------------------------------------------------------------------ writing

    def record(self, *records: Record, today: date | None = None) -> Receipt:
        """Store records, all or none; when this returns they are on the disk.

        today is the day against which dates ahead are refused (the computer's when not given).
        Raises RefusedError naming every problem, ReadOnlyError, StoreError.
        """
        for record in records:
            if not isinstance(record, Record):
                raise _no_record(record)
        return self._store([to_tables(records)], today, Change(revive=True))

    def record_tables(
        self,
        tables: Mapping[str, pa.Table] | Iterable[Mapping[str, pa.Table]],
        *,
        today: date | None = None,
        replacing: Mapping[str, str] | None = None,
        reason: str | None = None,
    ) -> Receipt:
        """Store candidate rows (as perennia.store.schemas.to_tables makes them), all or none.

        tables are those of the whole batch, or an iterable of such dicts, each a part of the batch with whole records:
        of a large batch only one part at a time is then in memory. Rows without record_id get a new one; a row with one
        that is stored with the same content, or that was corrected since, is left out. replacing: by the id of a record
        that counts, the id of the row that takes its place, a correction for the reason. today is that of record.
        Raises as record and correct_all do.
        """
        parts = tables if isinstance(tables, Iterable) and not isinstance(tables, Mapping) else [tables]
        replaced = {
            arguments.record_identity(old): arguments.record_identity(new) for old, new in (replacing or {}).items()
        }
        return self._store(map(well_formed, parts), today, _change(replaced, reason))

    def _store(self, parts: Iterable[Mapping[str, pa.Table]], today: date | None, change: Change) -> Receipt:
        self._must_write()
        day = arguments.a_day(today, "today") or date.today()
        with disk_allows(self._path):
            stored = store_batch(self._path, parts, change, today=day, profiles=self._seen.profiles)
        self._see(stored.snapshot)
        ids = stored.record_ids
        return Receipt(stored.snapshot.batch, ids, stored.new, len(ids) - stored.new, stored.doubts)

    def correct(
        self, record_id: str, replacement: Record | None = None, *, reason: str, today: date | None = None
    ) -> Receipt:
        """Take a record back, and put a replacement in its place when one is given; the old one is kept whole.

        record_id: as a receipt or any view has it. reason: in the grower's words, kept with both. today is that of
        record. The books without the old and with the new record are checked as any batch. Raises UnknownLabelError
        when no such record counts, RefusedError when the correction would leave contradictions, ReadOnlyError,
        StoreError.
        """
        return self.correct_all({record_id: replacement}, reason=reason, today=today)

    def correct_all(
        self, replacements: Mapping[str, Record | None], *, reason: str, today: date | None = None
    ) -> Receipt:
        """Take several records back at once, all or none, each with what is put in its place, or None, by its id.

        replacements: by record id. reason and today are those of correct. The receipt has an id for each replacement,
        in their order. Raises as correct does.
        """
        if not isinstance(replacements, Mapping):
            raise ArgumentError(f"replacements is a {type(replacements).__name__}; give a dict of records by record id")
        for replacement in replacements.values():
            if replacement is not None and not isinstance(replacement, Record):
                raise _no_record(replacement)
        named = [arguments.record_identity(old) for old in replacements]
        if len(set(named)) < len(named):
            raise ArgumentError("replacements names a record twice; say once what is to become of it")
        own = identified(to_tables([record for record in replacements.values() if record is not None]), by_name=False)
        given = iter(ids_of([records_of(own)]))
        replaced = {
            old: None if record is None else bytes.fromhex(next(given))
            for old, record in zip(named, replacements.values(), strict=True)
        }
        return self._store([own], today, _change(replaced, reason))

    def compact(self) -> None:
        """Rewrite partitions of several files into one file each, without what was corrected. Answers do not change.

        Of a large garden (over 4 MiB) the seasons of all plants are then worked out and kept beside the books, so that
        season_summary, and what asks it, only reads them until a record, a correction or a crop profile is changed; of
        one over 16 MiB the entries of every plant too, which history reads. Raises ReadOnlyError; StoreError, also when
        the books are compacted but these cannot be kept.
        """
        self._must_write()
        with disk_allows(self._path), writer(self._path) as pen:
            compact(pen, at=2)
            snapshot = pen.snapshot
        self._see(snapshot)
        with disk_allows(self._path):
            keep(self._seen)

    # ------------------------------------------------------------------ reading

    @overload
    def sql(self, query: str, params: Params = ..., *, as_: Literal["pandas"] = ..., isolated: bool = ...,
            time_limit_s: float | None = ..., memory_limit_mb: int = ...) -> pd.DataFrame: ...  # fmt: skip
    @overload
    def sql(self, query: str, params: Params = ..., *, as_: Literal["arrow"], isolated: bool = ...,
            time_limit_s: float | None = ..., memory_limit_mb: int = ...) -> pa.Table: ...  # fmt: skip
    def sql(
        self, query: str, params: Params = None, *, as_: As = "pandas", isolated: bool = False,
        time_limit_s: float | None = 60.0, memory_limit_mb: int = 2048,
    ) -> pd.DataFrame | pa.Table:  # fmt: skip
        """One SELECT over the garden's views.

        query: nothing but a SELECT over the views named by views() is let through. params: values bound to its ``?``, a
        list, or to its ``$name``, a dict. as_: pandas, or arrow for a pyarrow Table. isolated runs it in a process of
        its own that is killed at time_limit_s seconds or memory_limit_mb MiB. Raises QueryRefusedError,
        QueryLimitError.
        """
        arguments.a_name(query, "the query")
        arguments.a_whole_number(memory_limit_mb, "memory_limit_mb", 2048)
        if time_limit_s is not None:
            arguments.a_number_above_0(time_limit_s, "time_limit_s")
        views = catalogue.shown()
        if isolated:
            # what it may take was said with the question: the usual limit of a garden is not to stop it short of that.
            # two fifths are DuckDB's, which spills to the disk only where it meets its own limit before the system's
            limit = self._seen.memory_limit or f"{memory_limit_mb * 1024 * 2 // 5}KiB"
            opener = partial(opened_for, attrs.evolve(self._seen, memory_limit=limit), query)
            result = run_isolated(
                opener, query, params, views=views, time_limit_s=time_limit_s or 3600.0,
                memory_limit_bytes=memory_limit_mb * 1024 * 1024,
            )  # fmt: skip
        else:
            with self._lock:
                connection = self._connected(query)
                result = run_select(connection, query, params, views=views, time_limit_s=time_limit_s)
        return shaped(result, as_)

    @overload
    def table(self, view: str, *, labels: Collection[str] | None = ..., years: Collection[int] | None = ...,
              as_: Literal["pandas"] = ...) -> pd.DataFrame: ...  # fmt: skip
    @overload
    def table(self, view: str, *, labels: Collection[str] | None = ..., years: Collection[int] | None = ...,
              as_: Literal["arrow"]) -> pa.Table: ...  # fmt: skip
    def table(
        self, view: str, *, labels: Collection[str] | None = None, years: Collection[int] | None = None,
        as_: As = "pandas",
    ) -> pd.DataFrame | pa.Table:  # fmt: skip
        """One view whole, or its rows for some labels (or plants, as ``A1/2021``) and calendar years or seasons.

        years picks seasons where the view has a season, else calendar years of the latest day a row can mean. as_:
        pandas, or arrow for a pyarrow Table. Raises UnknownLabelError for a view that does not exist, or a choice the
        view has no column for.
        """
        query = catalogue.shown().get(arguments.a_name(view, "view"))
        if query is None:
            raise UnknownLabelError(
                f"there is no view called {view!r}; there are {', '.join(sorted(catalogue.shown()))}"
            )
        text, params = view_rows(
            query,
            None if labels is None else arguments.names(labels, "labels"),
            None if years is None else arguments.years(years, "years"),
        )
        result = self.sql(text, params, as_="arrow", time_limit_s=None)
        return shaped(result, as_)

    def rows(self, table: str) -> pa.Table:
        """The rows of one table of records that count, as they are stored: what was recorded, nothing worked out.

        table is sites, beds, life, harvest, flowering, care, weather or seed; its columns are those of
        ``perennia.store.schemas.TABLES[table]``, one row a label of a record, by record_id and label. Corrected records
        are left out; a garden opened with as_of gives what counted then. Raises UnknownLabelError for another table.
        """
        if arguments.a_name(table, "table") not in RECORD_TABLES:
            raise UnknownLabelError(f"there is no table called {table!r}; there are {', '.join(RECORD_TABLES)}")
        with self._lock, disk_allows(self._path):
            return counting_rows(self._connected(""), table)

    def sizes(self) -> dict[str, int]:
        """The number of rows stored in each table of records, those of corrected records that were not folded too."""
        with self._lock, disk_allows(self._path):
            return stored_sizes(self._connected(""))

    def corrections(self) -> pd.DataFrame:
        """What was corrected, one row a record taken back, in the order of the corrections.

        Columns: record_id, replacement_id (32 hexadecimal digits, missing where nothing was put in its place),
        corrected_at (UTC), table, reason, old (its rows as they were, as JSON).
        """
        with self._lock, disk_allows(self._path):
            return to_pandas(counting_corrections(self._connected("")))

    def recorded(self, record_id: str) -> Record:
        """The record of a record_id that counts. Raises UnknownLabelError when there is none."""
        with self._lock, disk_allows(self._path):
            _, rows = stored_record(self._seen.snapshot.files, arguments.record_identity(record_id))
        return from_rows(rows.to_pylist())

    def became(self, table: str, ids: pa.Array) -> Mapping[bytes, Fate]:
        """What was said under those of the ids (binary, 16 bytes each) that are known in a table, and by what took
        its place, as content hashes; and the id of what counts of it now. A garden opened with as_of looks as any."""
        with disk_allows(self._path):
            return what_became(table, ids, self._seen.snapshot.files)

    def history(self, label: str | Collection[str]) -> pd.DataFrame:
        """One plant's whole life, one row an entry, oldest first; or that of several plants, one after the other.

        label is the grower's label (its latest life) or an address such as ``A1/2021``, or several of them. Columns: on
        (datetime64[s], the day taken), on_from, on_to, season (Int64), season_name, table, event, what (string, the
        details in words), state (after a life event), inferred (boolean), plant, record_id. Raises UnknownLabelError.
        """
        names = arguments.names(label, "label")
        with self._lock, disk_allows(self._path):
            connection = self._connected_to(names)
            lives = lives_of(connection, names)
            for name in names:
                if name not in lives:
                    every = self._connected("plants").execute("select distinct label from plants").fetchall()
                    near = nearest(name, [known for (known,) in every])
                    raise UnknownLabelError(f"no plant labelled {name!r} in this garden{near}")
            found = entries_of(connection, [lives[name] for name in names])
        return to_pandas(found)

    def views(self) -> pd.DataFrame:
        """Every view and column: one row a column, with view, row (what one row is), grain, column, description."""
        rows = [
            {"view": name, "row": query.row, "grain": ", ".join(query.grain), "column": column, "description": text}
            for name, query in catalogue.shown().items()
            for column, text in query.columns.items()
        ]
        return pd.DataFrame(rows, dtype="string")

    # ------------------------------------------------------------------ inside

    def _must_write(self) -> None:
        if self._seen.as_of is not None:
            raise ReadOnlyError("this garden shows an earlier state of the books; open it without as_of to write")
        if self._seen.until is not None:
            raise ReadOnlyError("this garden shows its books up to a day; write through the one it was made from")
        if self._read_only:
            raise ReadOnlyError("this garden was opened for reading; open it without read_only to write")

    def _see(self, snapshot: Snapshot) -> None:
        with self._lock:
            if snapshot.batch != self._seen.snapshot.batch:
                self.close()
            self._seen = attrs.evolve(self._seen, snapshot=snapshot)

    def _connected_to(self, names: Collection[str]) -> duckdb.DuckDBPyConnection:
        """A connection that has the entries of these plants: of a large garden it sees few others."""
        alone = opened_on(self._seen, names)
        return self._connected("plants entries", inside=("entries",)) if alone is None else alone

    def _connected(self, text: str, inside: Sequence[str] = ()) -> duckdb.DuckDBPyConnection:
        with disk_allows(self._path):
            if self._opened is not None and not self._opened.is_whole:
                self.close()
            if self._opened is None:
                self._opened = opened(self._seen)
            self._opened.make([*named_in(text), *inside])
            return self._opened.connection


def _folder(path: str | Path) -> Path:
    """The folder wherever the process goes later."""
    return arguments.a_path(path, "the garden's folder").absolute()


def _change(replaced: Mapping[bytes, bytes | None], reason: str | None) -> Change:
    """What a batch takes back. Raises RefusedError for a correction without a reason."""
    if not replaced:
        return Change()
    if not arguments.a_name(reason, "reason").strip():
        raise RefusedError([Problem(0, "the correction", "reason", "is empty", "say why, for later years", "B5")])
    return Change(replaced, reason)


def _no_record(given: object) -> ArgumentError:
    return ArgumentError(f"{given!r} is no perennia record; build one such as Picked('A1', '2024-07-15', 120)")
