"""What a data logger wrote: channels in SI, each on its own clock, read as a stream so that size does not matter.

The samples go to scratch files and are read back by the piece, so that a file of gigabytes takes some tens of
megabytes of memory.
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

import numpy as np
import numpy.typing as npt

from tussock.errors import DomainError, InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.mdf_head import HEAD, is_mdf, points_beyond

CHUNK = 100_000  # rows read at a time
_MOST_HEAD = 200  # lines above the titles
_REPEATED = 1e-9  # stamps nearer than this are one [s]


class LoggerError(InputError):
    """A logger file cannot be used; says file, channel or row, and what would be right."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Wire:
    """Which column of the file a channel is, and how it becomes SI.

    Attributes
    ----------
    title : str
        Of the column or MDF channel, as the logger writes it.
    factor, shift : float
        SI value = factor * (written - shift); a sensor mounted the other way round has a negative factor.
    clock : float
        What the channel's clock is ahead of the file's [s]; taken off its stamps.
    """

    title: str
    factor: float = 1.0
    shift: float = 0.0
    clock: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a wiring that cannot be."""
        if not (math.isfinite(self.factor) and self.factor != 0.0):
            raise DomainError(f"channel {self.title!r}: factor {self.factor:g}; it cannot be 0")
        if not (math.isfinite(self.shift) and math.isfinite(self.clock)):
            raise DomainError(f"channel {self.title!r}: shift and clock must be numbers")


@dataclass(frozen=True, eq=False)
class Series:
    """One channel: stamps (n,) [s], rising, and values (n,) in SI; NaN where the logger wrote none it could mean."""

    time: Floats
    values: Floats | npt.NDArray[np.float32]

    def __post_init__(self) -> None:
        """Refuse stamps and values that do not belong together."""
        if self.time.ndim != 1 or self.time.shape != self.values.shape:
            raise DomainError(f"a channel has {self.time.shape} stamps and {self.values.shape} values")

    @property
    def size(self) -> int:
        """Number of samples."""
        return int(self.time.size)

    @property
    def interval(self) -> float:
        """Usual time between samples [s]: the median over the first hundred thousand."""
        return float(np.median(np.diff(self.time[:100_001]))) if self.size > 1 else math.inf

    def between(self, start: float, end: float) -> Series:
        """Return the samples from start to end [s], as plain arrays."""
        low, high = np.searchsorted(self.time, [start, end])
        return Series(
            np.array(self.time[low:high], dtype=np.float64), np.array(self.values[low:high], dtype=np.float64)
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class Recording:
    """All channels of one file, by key; `name` is the file's, `rows` how many it had."""

    name: str
    channels: Mapping[str, Series]
    rows: int

    @property
    def start(self) -> float:
        """First stamp of all channels [s]."""
        return min(float(s.time[0]) for s in self.channels.values() if s.size)

    @property
    def end(self) -> float:
        """Last stamp of all channels [s]."""
        return max(float(s.time[-1]) for s in self.channels.values() if s.size)


class _Spool:
    """Stamps and values of one channel, appended to scratch files."""

    def __init__(self) -> None:
        self.files: tuple[IO[bytes], IO[bytes]] = (tempfile.TemporaryFile(), tempfile.TemporaryFile())
        self.size = 0
        self.last = -math.inf

    def add(self, time: Floats, values: Floats) -> None:
        self.files[0].write(np.ascontiguousarray(time, dtype=np.float64).tobytes())
        self.files[1].write(np.ascontiguousarray(values, dtype=np.float32).tobytes())
        self.size += int(time.size)

    def series(self) -> Series:
        for f in self.files:
            f.flush()
        if self.size == 0:
            return Series(np.empty(0), np.empty(0))
        # the mapping keeps the scratch file after it is closed
        time = np.memmap(self.files[0], dtype=np.float64, mode="r", shape=(self.size,))
        values = np.memmap(self.files[1], dtype=np.float32, mode="r", shape=(self.size,))
        return Series(time, values)


@contextmanager
def _spools(keys: Iterable[str]) -> Iterator[dict[str, _Spool]]:
    spools = {key: _Spool() for key in keys}
    try:
        yield spools
    finally:
        for spool in spools.values():
            for f in spool.files:
                f.close()


def read_csv(path: Path | str, wires: Mapping[str, Wire], *, time: Wire, name: str | None = None) -> Recording:
    """Read a logger's text file.

    Comments (``#``) and free text above the titles are passed over; semicolon, tabulator or comma part the columns; a
    decimal comma is read when something else parts them. Channels at different rates leave cells empty. A file whose
    name ends in .gz is unpacked on the way.

    Parameters
    ----------
    path : path
        The file.
    wires : mapping
        Channels by key.
    time : Wire
        The column of stamps.
    name : str, optional
        What the file is called in messages.

    Raises
    ------
    LoggerError
        A column is not there, a cell is no number, the clock runs backwards, or the file has no rows.
    """
    import pandas as pd

    path = Path(path)
    name = path.name if name is None else name
    skip, titles, delimiter = _head(path, name, {time.title, *(w.title for w in wires.values())})
    _titles_there(name, titles, wires, time)
    wanted = {time.title: time, **{w.title: w for w in wires.values()}}
    rows = 0
    with _spools(wires) as spools:
        try:
            with pd.read_csv(
                path,
                sep=delimiter,
                decimal="," if delimiter != "," else ".",
                skiprows=skip,
                header=0,
                names=titles,
                usecols=list(wanted),
                comment="#",
                chunksize=CHUNK,
                dtype=str if delimiter != "," else np.float64,
                na_values=["", "-", "n/a", "nan", "NaN"],
                skipinitialspace=True,
                encoding="utf-8",
                encoding_errors="replace",
            ) as reader:
                for chunk in reader:
                    columns = {title: _numbers(chunk[title], title, name, rows + skip + 2) for title in wanted}
                    stamps = time.factor * (columns[time.title] - time.shift)
                    _add(spools, wires, columns, stamps, name, rows)
                    rows += len(chunk)
        except LoggerError:
            raise
        except (ValueError, OSError, EOFError) as error:
            said = str(error).splitlines()[0][:200]
            raise LoggerError(f"{name}: cannot be read near row {rows + 1}: {said}") from None
        return _recording(name, spools, rows)


def _numbers(column: Any, title: str, name: str, first: int) -> Floats:
    """Return a column's numbers; of text, decimal comma or point."""
    if column.dtype.kind == "f":
        return np.asarray(column, dtype=np.float64)
    import pandas as pd

    plain = column.str.replace(",", ".", regex=False)
    got = pd.to_numeric(plain, errors="coerce")
    bad = got.isna() & column.notna()
    if bad.any():
        at = int(np.argmax(bad.to_numpy()))
        raise LoggerError(f"{name}: row {first + at}: {title} is {str(column.iloc[at])[:40]!r}; a number is needed")
    return np.asarray(got, dtype=np.float64)


def _add(
    spools: Mapping[str, _Spool],
    wires: Mapping[str, Wire],
    columns: Mapping[str, Floats],
    stamps: Floats,
    name: str,
    row: int,
) -> None:
    """Append one piece of the file to the channels, each with the rows in which it has a value."""
    stamped = np.isfinite(stamps)
    for key, wire in wires.items():
        values = columns[wire.title]
        there = stamped & ~np.isnan(values)
        if not there.any():
            continue
        t, v = stamps[there], values[there]
        spool = spools[key]
        steps = np.diff(np.concatenate([[spool.last], t]))
        if np.any(steps < -_REPEATED):
            at = int(np.argmax(steps < -_REPEATED))
            before = spool.last if at == 0 else float(t[at - 1])
            raise LoggerError(
                f"{name}: the clock runs backwards near row {row + int(np.flatnonzero(there)[at]) + 1}: {t[at]:.3f} s "
                f"after {before:.3f} s; it was set, or two records were joined: part the file there"
            )
        keep = steps > _REPEATED
        if keep.any():
            spool.last = float(t[keep][-1])
            spool.add(t[keep] - wire.clock, wire.factor * (v[keep] - wire.shift))


def _recording(name: str, spools: Mapping[str, _Spool], rows: int) -> Recording:
    channels = {key: spool.series() for key, spool in spools.items()}
    if not any(s.size for s in channels.values()):
        raise LoggerError(f"{name}: no rows with a stamp and a value below the titles")
    return Recording(name=name, channels=channels, rows=rows)


def _titles_there(name: str, titles: list[str], wires: Mapping[str, Wire], time: Wire) -> None:
    missing = [f"{key} ({w.title!r})" for key, w in {"time": time, **wires}.items() if w.title not in titles]
    if missing:
        raise LoggerError(f"{name}: no column for {', '.join(missing)}; the file has {', '.join(titles)[:300]}")
    twice = sorted({t for t in titles if titles.count(t) > 1} & {w.title for w in (time, *wires.values())})
    if twice:
        raise LoggerError(f"{name}: more than one column is called {', '.join(twice)}; keep one")


def _head(path: Path, name: str, wanted: set[str]) -> tuple[int, list[str], str]:
    """Return lines above the titles, the titles, and what parts the columns."""
    import csv
    import gzip

    opened: Any = gzip.open if path.suffix == ".gz" else open
    best: tuple[int, int, list[str], str] | None = None
    try:
        with opened(path, "rt", encoding="utf-8-sig", errors="replace") as stream:
            for number, line in _lines(stream):
                if "\x00" in line:
                    raise LoggerError(f"{name}: the file is binary; export it as text (CSV) or ASAM MDF (.mf4)")
                if line.startswith("#") or not line.strip():
                    continue
                delimiter = max(";\t,", key=line.count)
                titles = [t.strip() for t in next(csv.reader([line], delimiter=delimiter))]
                found = len(wanted & set(titles))
                if best is None or found > best[0]:
                    best = (found, number, titles, delimiter)
                if found == len(wanted):
                    break
    except (OSError, EOFError) as error:
        raise LoggerError(f"{name}: cannot be read: {getattr(error, 'strerror', None) or error}") from None
    if best is None:
        raise LoggerError(f"{name}: the file is empty; expected a line of titles and one row a sample")
    return best[1], best[2], best[3]


def _lines(stream: Any) -> Iterator[tuple[int, str]]:
    for number in range(_MOST_HEAD):
        line = stream.readline(1_000_000)
        if not line:
            return
        yield number, line


def read_mdf(path: Path | str, wires: Mapping[str, Wire], *, name: str | None = None) -> Recording:
    """Read a logger's ASAM MDF file (needs the extra `mdf`); each channel has its own stamps in seconds.

    Raises
    ------
    LoggerError
        The reader is not installed, the file is not MDF or is cut short, a channel is not there or has no numbers, or
        a clock runs backwards.
    """
    try:
        from asammdf import MDF
    except ImportError:
        raise LoggerError("ASAM MDF files need the extra mdf: pip install 'tussock[mdf]'") from None
    path = Path(path)
    name = path.name if name is None else name
    with path.open("rb") as stream:
        size = path.stat().st_size
        if beyond := points_beyond(stream.read(HEAD), size):
            raise LoggerError(f"{name}: the MDF file is cut off: it ends at byte {size}, but goes on at byte {beyond}")
    rows = 0
    with _spools(wires) as spools:
        try:
            # an open file is read by the piece; a path would be mapped whole, and its pages count as memory
            with path.open("rb") as stream, MDF(stream) as mdf:
                missing = [f"{key} ({w.title!r})" for key, w in wires.items() if w.title not in mdf.channels_db]
                if missing:
                    has = ", ".join(sorted(mdf.channels_db))[:300]
                    raise LoggerError(f"{name}: no channel for {', '.join(missing)}; the file has {has}")
                for key, wire in wires.items():
                    rows = max(rows, _mdf_channel(mdf, spools[key], wire, name))
        except LoggerError:
            raise
        except Exception as error:  # the reader has no error class of its own
            raise LoggerError(f"{name}: cannot be read as ASAM MDF: {str(error)[:200]}") from None
        return _recording(name, spools, rows)


def _mdf_channel(mdf: Any, spool: _Spool, wire: Wire, name: str) -> int:
    places = mdf.channels_db[wire.title]
    if len(places) > 1:
        raise LoggerError(f"{name}: {len(places)} channels are called {wire.title!r}; keep one")
    group, index = places[0]
    offset = 0
    while True:
        piece = mdf.get(group=group, index=index, record_offset=offset, record_count=CHUNK)
        count = len(piece.timestamps)
        if count == 0:
            return offset
        if piece.samples.dtype.kind not in "fiu":
            raise LoggerError(f"{name}: channel {wire.title!r} holds no numbers")
        columns = {wire.title: np.asarray(piece.samples, dtype=np.float64)}
        _add({"": spool}, {"": wire}, columns, np.asarray(piece.timestamps, dtype=np.float64), name, offset)
        offset += count
        if count < CHUNK:
            return offset


def read_recording(path: Path | str, wires: Mapping[str, Wire], *, time: Wire, name: str | None = None) -> Recording:
    """Read a logger file, as ASAM MDF by its first bytes or as text; see `read_csv` and `read_mdf`."""
    path = Path(path)
    try:
        with path.open("rb") as stream:
            first = stream.read(HEAD)
    except OSError as error:
        raise LoggerError(f"{name or path.name}: cannot be read: {error.strerror}") from None
    if is_mdf(first):
        return read_mdf(path, wires, name=name)
    return read_csv(path, wires, time=time, name=name)
