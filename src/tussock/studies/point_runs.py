"""Running points: one after the other, in threads on this machine, or on a cluster; what is finished is kept.

Every way calls `points.evaluate` with the same scene, so that the figures are the same to the last bit. Outcomes arrive
in the order finished and go into a table by number (and a file, if one is named), so the order does not matter either.
"""

from __future__ import annotations

import hashlib
import os
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import Workspace
from tussock.studies import points
from tussock.studies.point_file import Inputs, PointFile, digest_of
from tussock.studies.points import Outcome, Point, Scene

#: Told how many points are done, of how many, and how many of them failed.
Report: TypeAlias = Callable[[int, int, int], None]
Batches: TypeAlias = Iterator[tuple[Outcome, ...]]


@dataclass(frozen=True, kw_only=True)
class How:
    """How points are run.

    Attributes
    ----------
    threads : int
        On this machine; as many as it has cores unless said. 1 runs them one after the other.
    cluster : str
        Address of a scheduler, such as ``tcp://192.168.7.2:8786``; none for this machine.
    file : Path, optional
        Keeps every finished point.
    resume : bool
        Go on with that file.
    folder : Path, optional
        Keeps every run in a file named by what its figures depend on, and goes on with one that is there; made if only
        its parent is there.
    """

    threads: int | None = None
    cluster: str = ""
    file: Path | None = None
    resume: bool = False
    folder: Path | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if self.threads is not None and not 1 <= self.threads <= 256:
            raise InputError(f"{self.threads} threads run nothing; 1 to 256 do")
        if self.resume and self.file is None:
            raise InputError("nothing to go on with; name the file of results too")
        if self.folder is not None and self.file is not None:
            raise InputError("results are kept in a file or in a folder, not in both")

    @property
    def stopped(self) -> str:
        """What is said of a study of several runs that was stopped."""
        if self.folder is None:
            return "Stopped: nothing is kept of a study that was not finished; a folder named by --results would have."
        return f"Stopped: what is finished stands in {self.folder}; ask again with the same --results to go on."

    def kept(self, inputs: Inputs) -> How:
        """Return the same with the file of these inputs in the folder; without a folder the very same.

        Raises
        ------
        InputError
            If the folder cannot be made.
        """
        if self.folder is None:
            return self
        if not self.folder.parent.is_dir():
            raise InputError(f"cannot write to {self.folder}: the folder {self.folder.parent} does not exist")
        try:
            self.folder.mkdir(exist_ok=True)
        except OSError as error:
            raise InputError(f"cannot keep results in {self.folder}: {error.strerror}; name another folder") from None
        file = self.folder / f"points-{digest_of(inputs)[:16]}.jsonl"
        return How(threads=self.threads, cluster=self.cluster, file=file, resume=file.exists())


class Stopped(KeyboardInterrupt):
    """The user stopped the run; says what is kept."""


class PointTable:
    """Figures of all points by number, as arrays: about 8 bytes a figure, no history.

    Attributes
    ----------
    values : array (n, d)
        Of the adjusters.
    figures : array (n, m)
        In the order of `Scene.names`; NaN until finished.
    failed : dict
        Reasons of the points that could not be driven, by number.
    """

    def __init__(self, values: Floats, names: Sequence[str]) -> None:
        self.values = values
        self.names = tuple(names)
        self.figures = np.full((len(values), len(self.names)), np.nan)
        self.failed: dict[int, str] = {}
        self.done = np.zeros(len(values), dtype=np.bool_)

    def put(self, outcome: Outcome) -> None:
        """Take a finished point."""
        self.done[outcome.number] = True
        if outcome.failed:
            self.failed[outcome.number] = outcome.failed
        else:
            self.figures[outcome.number] = outcome.figures

    def column(self, name: str) -> Floats:
        """Return one figure of all points (n,); NaN where a point failed."""
        return np.asarray(self.figures[:, self.names.index(name)])


def run(
    scene: Scene, values: Floats, *, how: How | None = None, inputs: Inputs | None = None, report: Report | None = None
) -> PointTable:
    """Run every point of a design and return the table of what they gave.

    Parameters
    ----------
    scene : Scene
        What is driven where.
    values : array (n, d)
        Of the adjusters, in the order of `scene.keys`.
    how : How, optional
        Threads, cluster, file.
    inputs : mapping, optional
        All that the figures depend on, for the file.
    report : callable, optional
        Told how far it is.

    Raises
    ------
    InputError
        If the file or the cluster cannot be used.
    Stopped
        If the user stopped it: finished points are in the file.
    """
    how = how or How()
    table = PointTable(values, scene.names)
    if how.folder is not None:
        told = hashlib.sha256(np.ascontiguousarray(values).tobytes()).hexdigest()
        inputs = {**(inputs or {}), "adjusters": list(scene.keys), "figures": list(scene.names), "values": told}
        how = how.kept(inputs)
    if how.file is None:
        _fill(scene, table, how, None, report)
        return table
    with PointFile(
        how.file,
        inputs=inputs or {},
        adjusters=scene.keys,
        figures=scene.names,
        points=len(values),
        resume=how.resume,
    ) as file:
        for outcome in file.found:
            if outcome.values != tuple(values[outcome.number]):
                raise InputError(f"{how.file}: point {outcome.number} has other values than this sweep gives it")
            table.put(outcome)
        _fill(scene, table, how, file, report)
    return table


def _fill(scene: Scene, table: PointTable, how: How, file: PointFile | None, report: Report | None) -> None:
    ahead = [Point(int(i), tuple(map(float, table.values[i]))) for i in np.flatnonzero(~table.done)]
    total = len(table.values)
    if report is not None:
        report(total - len(ahead), total, len(table.failed))
    if not ahead:
        return
    batches = _batches(scene, ahead, how)
    try:
        for batch in batches:
            if file is not None:
                file.append(batch)
            for outcome in batch:
                table.put(outcome)
            if report is not None:
                report(int(table.done.sum()), total, len(table.failed))
    except KeyboardInterrupt:
        kept = f"{int(table.done.sum())} of {total} points are finished"
        where = f" and stand in {how.file}; go on with --resume" if how.file else "; a file would have kept them"
        raise Stopped(f"Stopped: {kept}{where}.") from None
    finally:
        batches.close()  # type: ignore[attr-defined]


def _batches(scene: Scene, ahead: Sequence[Point], how: How) -> Batches:
    if how.cluster:
        from tussock.studies.point_cluster import on_cluster

        return on_cluster(scene, ahead, how.cluster)
    threads = how.threads or os.cpu_count() or 1
    return one_by_one(scene, ahead) if threads == 1 else in_threads(scene, ahead, threads)


def one_by_one(scene: Scene, ahead: Sequence[Point]) -> Batches:
    """Yield outcomes one after the other."""
    memory = Workspace()
    for point in ahead:
        yield (points.evaluate(scene, point, memory),)


def in_threads(scene: Scene, ahead: Sequence[Point], threads: int) -> Batches:
    """Yield outcomes as threads finish them; the stepper releases the interpreter lock. No more wait than run.

    Each thread drives all its points in the same memory.
    """
    kept = threading.local()

    def evaluate(point: Point) -> Outcome:
        if not hasattr(kept, "memory"):
            kept.memory = Workspace()
        return points.evaluate(scene, point, kept.memory)

    pool = ThreadPoolExecutor(threads)
    waiting: set[Future[Outcome]] = set()
    following = iter(ahead)
    try:
        while True:
            for point in following:
                waiting.add(pool.submit(evaluate, point))
                if len(waiting) >= 2 * threads:
                    break
            if not waiting:
                return
            finished, waiting = wait(waiting, return_when=FIRST_COMPLETED)
            yield tuple(future.result() for future in finished)
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
