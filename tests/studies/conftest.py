"""The packaged invented Tarn, opened once, and ways to change it."""

from __future__ import annotations

from importlib.resources import as_file, files
from typing import Any

import pytest
from vary_programme import Vary

from tussock.record import Loaded, load, with_field
from tussock.studies.job import Job


@pytest.fixture(scope="session")
def tarn() -> Loaded:
    """The packaged programme as read."""
    with as_file(files("tussock").joinpath("data/tarn")) as folder:
        return load(folder / "programme.yaml")


@pytest.fixture(scope="session")
def job(tarn: Loaded) -> Job:
    """The packaged programme with all that its studies share, computed once for the whole session."""
    return Job(tarn)


@pytest.fixture(scope="session")
def vary(tarn: Loaded, job: Job) -> Vary:
    """Make a job of the Tarn with fields changed: ``{"targets.droop.front": "95 mm"}``."""

    def make(changes: dict[str, Any]) -> Job:
        loaded = tarn
        for path, value in changes.items():
            loaded = with_field(loaded, path, value)
        changed = Job(loaded)
        if loaded.files == tarn.files:
            changed.__dict__["dyno_tests"] = job.dyno_tests  # the same files need not be read again
        return changed

    return make
