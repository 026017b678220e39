"""Times and memory of sweeps: points in one thread and in two, the share of work beside the driving, peak memory.

Run with ``python bench/sweep.py``; ``--points 10000`` for the memory of a long sweep (some minutes on two cores).
Ratios are of pairs within one run, so that a busy machine matters little.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import time
from importlib.resources import as_file, files
from pathlib import Path

import numpy as np

from tussock.studies import adjusters, designs, point_runs, points
from tussock.studies.job import Job, open_job
from tussock.studies.point_runs import How
from tussock.studies.sweep import USUAL

SHORT = "cattle grid"  # a section of some ten seconds


def _job(name: str) -> Job:
    with as_file(files("tussock") / "data" / name) as folder:
        return open_job(folder / "programme.yaml")


def _peak() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def _own() -> str:
    """Say how much of the memory now held is the process's own, where the system tells."""
    try:
        lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
        rows = dict(line.split(":", 1) for line in lines)
        own, mapped = (float(rows[key].split()[0]) / 1024.0 for key in ("RssAnon", "RssFile"))
    except (OSError, KeyError):
        return ""
    return f"; now {own:.0f} MB of its own, {mapped:.0f} MB of libraries mapped from their files"


def main() -> None:
    """Write the figures on stdout."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--points", type=int, default=0, help="of a long sweep on one section, for its memory")
    asked = parser.parse_args()
    keys = [r.key for r in USUAL]
    for name in ("tarn", "dunnock"):
        job = _job(name)
        scene = points.scene_of(job, job.setup(), keys=keys)
        values = designs.design("latin", USUAL, points=15, levels=0, seed=1)
        seconds = sum(s.length / s.mean_speed for s in scene.road.sections)
        point_runs.run(scene, values[:2], how=How(threads=2))
        ratios, whole = [], []
        for _ in range(3):
            begun = time.perf_counter()
            point_runs.run(scene, values, how=How(threads=1))
            one = time.perf_counter() - begun
            begun = time.perf_counter()
            point_runs.run(scene, values, how=How(threads=2))
            two = time.perf_counter() - begun
            ratios.append(one / two)
            whole.append(one / len(values))
        begun = time.perf_counter()
        for row in values:
            adjusters.adjusted(scene.fitted, dict(zip(keys, row, strict=True)))
        setting = (time.perf_counter() - begun) / len(values)
        pace, pair = seconds / min(whole), statistics.median(ratios)
        print(f"{name}: {min(whole):.3f} s a point of {seconds:.0f} s of road, {pace:.0f} x real time, all included")
        print(f"{name}: two threads {pair:.2f} x one; setting adjusters {1e3 * setting:.1f} ms a point")
    if asked.points:
        job = _job("tarn")
        scene = points.scene_of(job, job.setup(), keys=keys, only=[SHORT])
        values = designs.design("latin", USUAL, points=100, levels=0, seed=1)
        point_runs.run(scene, values, how=How(threads=2))
        before = _peak()
        values = designs.design("latin", USUAL, points=asked.points, levels=0, seed=2)
        begun = time.perf_counter()
        table = point_runs.run(scene, values, how=How(threads=2))
        took = time.perf_counter() - begun
        more = _peak() - before
        print(f"{len(values)} points on one section in {took:.0f} s, {len(table.failed)} failed")
        size = table.figures.nbytes / 1e6
        print(f"peak memory {_peak():.0f} MB, {more:.1f} MB above 101 points; table {size:.1f} MB{_own()}")
        assert np.isfinite(table.figures).all() or table.failed


if __name__ == "__main__":
    main()
