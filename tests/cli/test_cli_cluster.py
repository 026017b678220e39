"""A sweep on a real Dask cluster from the shell: a worker that dies loses nothing; a vehicle that falls leaves no file.

The programme is the packaged Tarn, all invented.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import threading
import time
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tussock.cli import app
from tussock.studies import point_cluster

SWEEP = ["--vary", "front_rebound: 0.7 to 1.4", "--vary", "rear_spring: 0.8 to 1.3", "--section", "cattle grid"]


@pytest.fixture(scope="module")
def tarn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the packaged programme with the files it names."""
    folder = tmp_path_factory.mktemp("tarn")
    with as_file(files("tussock").joinpath("data/tarn")) as packaged:
        shutil.copytree(packaged, folder, dirs_exist_ok=True)
    return folder / "programme.yaml"


def points(path: Path) -> dict[int, Any]:
    """Return the points of a file of results by their numbers; every line must be whole."""
    text = path.read_text(encoding="utf-8")
    assert text.endswith("\n")
    rows = [json.loads(line) for line in text.splitlines()[1:]]
    found = {row["point"]: (row["values"], row["figures"]) for row in rows}
    assert len(found) == len(rows)
    return found


def test_a_worker_killed_in_the_middle_of_a_sweep_loses_nothing(
    tarn: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    distributed, dask = pytest.importorskip("distributed"), pytest.importorskip("dask")
    here, there = tmp_path / "here.jsonl", tmp_path / "there.jsonl"
    asked = ["sweep", str(tarn), *SWEEP, "--points", "30", "--seed", "3"]
    alone = CliRunner().invoke(app, [*asked, "--threads", "1", "--results", str(here)])
    assert alone.exit_code in (0, 1), alone.stderr  # 1: some settings are worse than wanted
    monkeypatch.setattr(point_cluster, "ANSWER_WITHIN", 60.0)  # of a busy machine
    monkeypatch.setattr(point_cluster, "WORKERS_WITHIN", 60.0)
    killed: list[int] = []
    with (
        dask.config.set({"distributed.comm.timeouts.connect": "120s"}),
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None, silence_logs=50
        ) as cluster,
    ):
        victim = next(nanny.pid for nanny in cluster.workers.values())

        def kill() -> None:
            for _ in range(12_000):
                if there.exists() and there.read_bytes().count(b"\n") > 3:
                    killed.append(there.read_bytes().count(b"\n") - 1)
                    os.kill(victim, signal.SIGKILL)
                    return
                time.sleep(0.01)

        watch = threading.Thread(target=kill)
        watch.start()
        done = CliRunner().invoke(app, [*asked, "--cluster", cluster.scheduler_address, "--results", str(there)])
        watch.join()
    assert done.exit_code == alone.exit_code, done.stderr
    assert killed
    assert killed[0] < 30  # in the middle
    assert points(there) == points(here)
    assert sorted(points(there)) == list(range(31))  # the vehicle as it is, and the points


def test_a_sweep_of_a_vehicle_that_does_not_stand_leaves_no_file(tarn: Path, tmp_path: Path) -> None:
    text = tarn.read_text(encoding="utf-8")
    height = "centre_of_gravity_height: 700 mm +- 20 mm"
    assert height in text
    heavy = "centre_of_gravity_height: 4400 mm\n  inertia: {roll: 9000 kg m^2, pitch: 12000 kg m^2, yaw: 12000 kg m^2}"
    wrong = tarn.with_name("wrong.yaml")
    wrong.write_text(text.replace(height, heavy), encoding="utf-8")
    out, results = tmp_path / "out", tmp_path / "points.jsonl"
    done = CliRunner().invoke(app, ["sweep", str(wrong), *SWEEP, "--results", str(results), "--out", str(out)])
    assert done.exit_code == 2
    assert "does not stand still" in " ".join(done.stderr.split())
    assert done.stdout == ""
    assert [p for p in tmp_path.rglob("*") if p.is_file()] == []
