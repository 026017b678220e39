"""Does a logger file of gigabytes take bounded memory? Written in pieces, read in a fresh process, its peak printed.

    python bench/logger.py [gigabytes, 2] [csv, mdf or both]

The file holds 22 invented channels at 500 Hz in a scratch folder, which is emptied afterwards (twice its size is
needed on the disk). Read as studies read it: whole file into channels, then a minute of every channel set on even
times and looked at for faults, at the begin, in the middle and at the end. Goal: at most 500 MB.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tussock.mechanics.logger import Wire, even, faults, read_recording

CHANNELS = tuple(f"channel {i}" for i in range(22))
RATE = 500.0  # [Hz]
PIECE = 20_000  # rows written at a time
LIMIT = 500.0  # [MB]


def piece(first: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Return stamps and values of one piece."""
    stamps = (first + np.arange(PIECE)) / RATE
    return stamps, rng.standard_normal((PIECE, len(CHANNELS)))


def write_csv(path: Path, size: float) -> None:
    """Write rows until the file has its size [bytes]; the same few pieces of noise under stamps that go on."""
    rng = np.random.default_rng(1)
    tails = [["," + ",".join(f"{v:.5f}" for v in row) + "\n" for row in piece(0, rng)[1]] for _ in range(2)]
    first = 0
    with path.open("w", encoding="utf-8") as stream:
        stream.write("time," + ",".join(CHANNELS) + "\n")
        while stream.tell() < size:
            tail = tails[(first // PIECE) % len(tails)]
            stream.write("".join(f"{(first + i) / RATE:.3f}{tail[i]}" for i in range(PIECE)))
            first += PIECE


def write_mdf(path: Path, size: float) -> None:
    """Write an MDF file of that size [bytes], 8 a value."""
    from asammdf import MDF, Signal

    rng = np.random.default_rng(1)
    pieces = max(round(size / (8.0 * PIECE * (len(CHANNELS) + 1))), 1)
    with MDF(version="4.10") as mdf:
        for k in range(pieces):
            stamps, values = piece(k * PIECE, rng)
            if k == 0:
                mdf.append([Signal(values[:, i], stamps, name=name) for i, name in enumerate(CHANNELS)])
            else:
                mdf.extend(0, [(stamps, None), *((values[:, i], None) for i in range(len(CHANNELS)))])
        mdf.save(path, overwrite=True)


def read(path: Path) -> None:
    """Read the file as studies do and print seconds, samples and the peak of this process [MB]."""
    start = time.perf_counter()
    got = read_recording(path, {name: Wire(title=name) for name in CHANNELS}, time=Wire(title="time"))
    for at in (got.start, 0.5 * (got.start + got.end), got.end - 60.0):
        for series in got.channels.values():
            even(series, at + 0.1, at + 59.0, 0.004)
            faults(series.between(at, at + 60.0))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    print(time.perf_counter() - start, got.rows, peak)


def main(gigabytes: float, kinds: tuple[str, ...]) -> int:
    """Print one line a kind of file; return 1 where the limit is passed."""
    worst = 0.0
    for kind in kinds:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / f"long.{'csv' if kind == 'csv' else 'mf4'}"
            (write_csv if kind == "csv" else write_mdf)(path, gigabytes * 1e9)
            size = path.stat().st_size / 1e9
            ran = subprocess.run(
                [sys.executable, __file__, "--read", str(path)], capture_output=True, text=True, check=True
            )
            seconds, rows, peak = map(float, ran.stdout.split())
        print(
            f"{kind}: {size:.2f} GB, {rows:.0f} rows of {len(CHANNELS)} channels, {seconds:.0f} s, peak {peak:.0f} MB"
        )
        worst = max(worst, peak)
    print(f"limit {LIMIT:.0f} MB: {'kept' if worst <= LIMIT else 'passed'}")
    return int(worst > LIMIT)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--read"]:
        read(Path(sys.argv[2]))
    else:
        asked = sys.argv[2] if len(sys.argv) > 2 else "both"
        sys.exit(
            main(float(sys.argv[1]) if len(sys.argv) > 1 else 2.0, ("csv", "mdf") if asked == "both" else (asked,))
        )
