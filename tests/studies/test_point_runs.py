"""Points one after the other, in threads and on a real Dask cluster: the same bits; nothing finished is lost."""

from __future__ import annotations

import dataclasses
import json
import os
import signal
import socket
import threading
import tracemalloc
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from vary_programme import Vary

from tussock.errors import InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.studies import point_cluster, point_file, point_runs, points
from tussock.studies.designs import Range, design
from tussock.studies.job import Job, Setup
from tussock.studies.point_runs import How, PointTable, Stopped
from tussock.studies.points import Outcome, Point, Scene

RANGES = (
    Range(key="front_rebound", low=0.7, high=1.4),
    Range(key="rear_spring", low=0.8, high=1.3),
    Range(key="front_stop_height", low=-0.01, high=0.01),
)
KEYS = tuple(r.key for r in RANGES)
BUMP = {"kind": "bump", "at": "12 m", "length": "0.6 m", "height": "60 mm", "side": "left"}
SHORT = [
    {"name": "left bump", "speed": "30 km/h", "length": "30 m", "surface": {"class": "C"}, "features": [BUMP]},
]


@pytest.fixture(scope="module")
def short(vary: Vary) -> Job:
    return vary({"road_loop.sections": SHORT})


@pytest.fixture(scope="module")
def scene(short: Job) -> Scene:
    return points.scene_of(short, Setup("bare", "B3"), keys=KEYS)


@pytest.fixture(scope="module")
def values() -> Floats:
    return design("latin", RANGES, points=23, levels=0, seed=5)


@pytest.fixture(scope="module")
def serial(scene: Scene, values: Floats) -> PointTable:
    return point_runs.run(scene, values, how=How(threads=1))


def test_a_point_is_the_loop_driven_with_its_adjusters(scene: Scene, serial: PointTable, short: Job) -> None:
    from tussock.studies import loop
    from tussock.studies.adjusters import adjusted

    at = 7
    vehicle = adjusted(scene.fitted, dict(zip(KEYS, serial.values[at], strict=True)))
    runs = loop.drive_loop(short, Setup("bare", "B3"), vehicle=vehicle)
    index = loop.loop_index(runs, loop.drive_loop(short, Setup("bare", "stock")))
    assert serial.column("comfort")[at] == index.comfort
    assert serial.column("control")[at] == index.control
    assert serial.column("seat")[at] == runs[0].measures["seat"]
    assert serial.column("left bump: control")[at] == index.by_section["left bump"][1]


def test_the_first_point_is_the_vehicle_as_it_is(scene: Scene, serial: PointTable) -> None:
    assert points.evaluate(scene, Point(0, tuple(serial.values[0]))).figures == tuple(serial.figures[0])
    assert [r.adjuster.neutral for r in RANGES] == list(serial.values[0])


def test_threads_give_the_same_bits(scene: Scene, values: Floats, serial: PointTable) -> None:
    told: list[tuple[int, int, int]] = []
    table = point_runs.run(scene, values, how=How(threads=3), report=lambda *now: told.append(now))
    np.testing.assert_array_equal(table.figures, serial.figures)
    assert told[0] == (0, 24, 0)
    assert told[-1] == (24, 24, 0)
    assert [t[0] for t in told] == sorted(t[0] for t in told)


def test_a_point_that_cannot_stand_is_kept_with_its_reason(scene: Scene) -> None:
    heavy = Scene(fitted=scene.fitted, road=scene.road, reference=scene.reference, keys=("front_spring", "body_mass"))
    table = point_runs.run(heavy, np.array([[1.0, 1.0], [0.4, 60.0], [1.1, 1.0]]), how=How(threads=2))
    assert list(table.failed) == [1]
    assert "rest" in table.failed[1]
    assert np.isnan(table.figures[1]).all()
    assert np.isfinite(table.figures[[0, 2]]).all()


# ---------------------------------------------------------------------------------------------------- the file


def _lines(path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


INPUTS = {"programme": "abc", "road seed": 7, "ranges": [[0.7, 1.4]]}


def test_stopped_and_resumed_is_as_if_never_stopped(
    scene: Scene, values: Floats, serial: PointTable, tmp_path: Path
) -> None:
    """A stop in the middle keeps what is finished; going on runs only the rest and gives the same bits."""
    path = tmp_path / "points.jsonl"

    def stop(done: int, total: int, failed: int) -> None:
        if done >= 9:
            raise KeyboardInterrupt

    with pytest.raises(Stopped, match=r"(9|10|11) of 24 points are finished and stand in .*--resume"):
        point_runs.run(scene, values, how=How(threads=2, file=path), inputs=INPUTS, report=stop)
    kept = _lines(path)
    assert kept[0]["format"] == "tussock-points"
    assert kept[0]["inputs"] == INPUTS
    assert 10 <= len(kept) <= 12
    with path.open("a", encoding="utf-8") as stream:
        stream.write('{"point": 23, "values": [1.0, 0.')  # what a crash leaves
    begun: list[int] = []
    how = How(threads=2, file=path, resume=True)
    table = point_runs.run(scene, values, how=how, inputs=INPUTS, report=lambda done, *_: begun.append(done))
    assert begun[0] == len(kept) - 1
    np.testing.assert_array_equal(table.figures, serial.figures)
    assert sorted(row["point"] for row in _lines(path)[1:]) == list(range(24))


def test_resume_refuses_what_was_made_from_something_else(scene: Scene, values: Floats, tmp_path: Path) -> None:
    path = tmp_path / "points.jsonl"
    few = values[:2]
    point_runs.run(scene, few, how=How(threads=1, file=path), inputs=INPUTS)
    again = How(threads=1, file=path, resume=True)
    for inputs, rows, words in (
        (INPUTS | {"programme": "abd"}, few, "made from something else: programme differs"),
        (INPUTS | {"programme": "abd", "road seed": 8}, few, "programme, road seed differ;"),
        (INPUTS, values[:3], "made from something else: points differs"),
        (INPUTS, few + np.array([0.0, 0.1, 0.0]), "point 0 has other values"),
    ):
        with pytest.raises(InputError, match=words):
            point_runs.run(scene, rows, how=again, inputs=inputs)
    with pytest.raises(InputError, match=r"exists; go on with it by --resume"):
        point_runs.run(scene, few, how=How(file=path), inputs=INPUTS)
    with pytest.raises(InputError, match="no such file to go on with"):
        point_runs.run(scene, few, how=How(file=tmp_path / "other.jsonl", resume=True), inputs=INPUTS)
    with pytest.raises(InputError, match="its folder does not exist"):
        point_runs.run(scene, few, how=How(file=tmp_path / "no" / "p.jsonl"), inputs=INPUTS)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is no file of a sweep"),
        ("rate,force\n1,2\n", "is no file of a sweep"),
        ('{"format": "tussock-points", "version": 9}\n', "version 9 of the format"),
    ],
)
def test_a_file_of_another_kind_is_refused(scene: Scene, values: Floats, tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "points.jsonl"
    path.write_text(text)
    with pytest.raises(InputError, match=words):
        point_runs.run(scene, values, how=How(file=path, resume=True), inputs=INPUTS)
    assert path.read_text() == text


@pytest.mark.parametrize("line", ["{}", "7", '{"point": 99, "values": [1, 1, 1], "failed": "no"}', '{"point": 0'])
def test_a_line_that_is_no_point_is_named(scene: Scene, values: Floats, tmp_path: Path, line: str) -> None:
    path = tmp_path / "points.jsonl"
    point_runs.run(scene, values[:2], how=How(threads=1, file=path), inputs=INPUTS)
    with path.open("a", encoding="utf-8") as stream:
        stream.write(line + "\n")
    with pytest.raises(InputError, match="line 4: this is no point"):
        point_runs.run(scene, values[:2], how=How(file=path, resume=True), inputs=INPUTS)


def test_a_full_disk_leaves_whole_lines_and_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The disk takes half of a line and then no more: that half is taken back."""
    path = tmp_path / "points.jsonl"
    write, room = os.write, [10_000]

    def full(descriptor: int, raw: bytes) -> int:
        if room[0] <= 0:
            raise OSError(28, "No space left on device")
        taken = write(descriptor, raw[: min(len(raw), room[0])])
        room[0] -= taken
        return taken

    with point_file.PointFile(path, inputs=INPUTS, adjusters=("a",), figures=("f",), points=3, resume=False) as file:
        monkeypatch.setattr("os.write", full)
        file.append([Outcome(0, (1.0,), (2.0,))])
        room[0] = 20
        with pytest.raises(InputError, match=r"No space left on device.*--resume"):
            file.append([Outcome(1, (1.5,), (2.5,))])
        room[0] = 10_000
        file.append([Outcome(2, (2.0,), (3.0,))])
    assert [row.get("point") for row in _lines(path)] == [None, 0, 2]
    room[0] = 20
    with pytest.raises(InputError, match="No space"):
        point_file.PointFile(
            tmp_path / "new.jsonl", inputs=INPUTS, adjusters=("a",), figures=("f",), points=3, resume=False
        )
    assert not (tmp_path / "new.jsonl").exists()


def test_a_point_costs_its_figures_and_no_history(scene: Scene, monkeypatch: pytest.MonkeyPatch) -> None:
    """5,000 points and 100 differ by what a table of figures needs: below 1 kB a point, file and threads included."""
    figures = tuple(0.5 + i for i in range(len(scene.names)))
    monkeypatch.setattr(
        points, "evaluate", lambda scene, point, memory=None: Outcome(point.number, point.values, figures)
    )
    peak = []
    for count in (100, 5_000):
        values = np.ones((count, 3))
        tracemalloc.start()
        point_runs.run(scene, values, how=How(threads=2))
        peak.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert (peak[1] - peak[0]) / 4_900 < 1024.0


@pytest.mark.parametrize(("given", "words"), [({"threads": 0}, "0 threads"), ({"resume": True}, "name the file")])
def test_ways_that_cannot_be_are_refused(given: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        How(**given)


# ------------------------------------------------------------------------------------------------- the cluster


@pytest.fixture
def cluster() -> Iterator[Any]:
    """Two worker processes on this machine under a real scheduler; a busy machine may take long to start them."""
    distributed, dask = pytest.importorskip("distributed"), pytest.importorskip("dask")
    with (
        dask.config.set({"distributed.comm.timeouts.connect": "120s"}),
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None, silence_logs=50
        ) as started,
    ):
        yield started


def test_a_cluster_gives_the_same_bits_whatever_dies(
    cluster: Any, scene: Scene, values: Floats, serial: PointTable, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """First a worker is killed in the middle: nothing is lost. Then the scheduler goes: what is finished stays.

    One test, so that one cluster is started. Batches hold one point, so that both workers have done some.
    """
    victim = next(nanny.pid for nanny in cluster.workers.values())
    killed = threading.Event()

    def kill(done: int, total: int, failed: int) -> None:
        if done >= 3 and not killed.is_set():
            killed.set()
            os.kill(victim, signal.SIGKILL)

    whole, cut = tmp_path / "whole.jsonl", tmp_path / "cut.jsonl"
    how = How(cluster=cluster.scheduler_address, file=whole)
    with monkeypatch.context() as patient:
        patient.setattr(point_cluster, "ANSWER_WITHIN", 60.0)
        patient.setattr(point_cluster, "WORKERS_WITHIN", 60.0)
        table = point_runs.run(scene, values, how=how, inputs=INPUTS, report=kill)
    assert killed.is_set()
    np.testing.assert_array_equal(table.figures, serial.figures)
    assert sorted(row["point"] for row in _lines(whole)[1:]) == list(range(24))

    closing = threading.Thread(target=cluster.close)

    def close(done: int, total: int, failed: int) -> None:
        if done >= 3 and closing.ident is None:
            closing.start()
            closing.join()

    how = How(cluster=cluster.scheduler_address, file=cut)
    with pytest.raises(SolverError, match=r"the scheduler at .* went away; points finished before are kept"):
        point_runs.run(scene, values, how=how, inputs=INPUTS, report=close)
    rows = {row["point"]: row["figures"] for row in _lines(cut)[1:]}
    assert 3 <= len(rows) < 24
    assert all(figures == list(serial.figures[i]) for i, figures in rows.items())


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nobody", "tcp://127.0.0.1:not-a-port"])
def test_an_address_that_nobody_answers_is_said(scene: Scene, values: Floats, address: str) -> None:
    pytest.importorskip("distributed")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(point_cluster, "ANSWER_WITHIN", 1.0)
        with pytest.raises(InputError, match=f"no scheduler answers at {address}"):
            point_runs.run(scene, values, how=How(cluster=address))


@pytest.mark.parametrize("starved", [1, 3])
def test_a_thread_of_dask_that_starts_late_is_waited_for(starved: int) -> None:
    """Dask asserts that its thread runs within 10 s; a busy machine broke that once, by no fault of the address."""
    tries: list[str] = []

    class Late:
        @staticmethod
        def Client(address: str, **_: object) -> str:
            tries.append(address)
            assert len(tries) > starved
            return "client"

    pytest.importorskip("distributed")
    with socket.create_server(("127.0.0.1", 0)) as server:
        address = f"tcp://127.0.0.1:{server.getsockname()[1]}"
        if starved < 3:
            assert point_cluster._client(Late, address) == "client"
        else:
            with pytest.raises(SolverError, match=f"too busy to speak with the scheduler at {address}"):
                point_cluster._client(Late, address)
    assert len(tries) == min(starved + 1, 3)


def test_batches_hold_every_point_once_and_are_few() -> None:
    for count, threads in ((1, 2), (24, 2), (1000, 4), (10_000, 8)):
        cut = point_cluster.batched([Point(i) for i in range(count)], threads)
        assert [p.number for b in cut for p in b] == list(range(count))
        assert max(len(b) for b in cut) <= 32
        assert len(cut) >= min(count, 8 * threads)


class _Client:
    """A cluster's client as far as its workers are asked who they are."""

    def __init__(self, answer: object) -> None:
        self.answer = answer

    def wait_for_workers(self, count: int, timeout: float) -> None:
        if self.answer is None:
            raise TimeoutError

    def run(self, function: object) -> object:
        if isinstance(self.answer, Exception):
            raise self.answer
        return self.answer

    def nthreads(self) -> dict[str, int]:
        return {"tcp://10.0.0.6:1": 4, "tcp://10.0.0.7:1": 2}


def test_workers_that_cannot_give_the_same_figures_are_refused() -> None:
    import tussock

    here = {"tcp://10.0.0.6:1": tussock.__version__}
    assert point_cluster._threads(_Client(here), "tcp://10.0.0.5:8786") == 6
    for answer, words in (
        (None, r"has no workers; start some: dask worker tcp://10\.0\.0\.5:8786"),
        ({**here, "tcp://10.0.0.7:1": "0.0.9"}, r"worker tcp://10\.0\.0\.7:1 runs Tussock 0\.0\.9"),
        (ModuleNotFoundError("No module named 'tussock'"), "install tussock there"),
    ):
        with pytest.raises(InputError, match=words):
            point_cluster._threads(_Client(answer), "tcp://10.0.0.5:8786")


def test_a_scene_that_keeps_each_section_tells_its_measures_last(scene: Scene, serial: PointTable) -> None:
    each = dataclasses.replace(scene, each=True)
    figures = points.evaluate(each, Point(3, tuple(serial.values[3]))).figures
    plain = tuple(serial.figures[3])
    assert figures[: len(plain)] == plain
    assert each.names[len(plain) :] == tuple(f"left bump: {key}" for key in scene.reference[0].measures)
    assert figures[each.names.index("left bump: seat")] == serial.column("seat")[3]
