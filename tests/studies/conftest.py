"""The packaged invented Tarn, opened once, and ways to change it."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import as_file, files
from typing import Any

import pytest
from vary_programme import Vary, varied, without_drives

from tussock.record import Loaded, load
from tussock.studies import valving_calibration
from tussock.studies.job import Job, job_of
from tussock.studies.kept import Kept


@pytest.fixture(scope="session")
def tarn() -> Loaded:
    """The packaged programme as read."""
    with as_file(files("tussock").joinpath("data/tarn")) as folder:
        return load(folder / "programme.yaml")


@pytest.fixture(scope="session")
def kept() -> Kept:
    """What jobs of the session take from one another by its content, as versions of a programme in the workbench do."""
    return Kept()


@pytest.fixture(scope="session")
def job(tarn: Loaded, kept: Kept) -> Job:
    """The packaged programme with all that its studies share, computed once for the whole session."""
    return job_of(tarn, kept)


@pytest.fixture(scope="session")
def vary(tarn: Loaded, job: Job, kept: Kept) -> Vary:
    """Make a job of the Tarn with fields changed: ``{"targets.droop.front": "95 mm"}``."""

    def make(changes: dict[str, Any]) -> Job:
        loaded = varied(tarn, without_drives(changes))
        changed = Job(loaded, kept)
        if loaded.files == tarn.files:
            changed.__dict__["dyno_tests"] = job.dyno_tests  # the same files need not be read again
        return changed

    return make


@pytest.fixture(scope="session", autouse=True)
def one_calibration(tarn: Loaded, job: Job) -> Iterator[None]:
    """Fit the dampers' parameters once for all jobs whose dampers, discs and sweeps are the Tarn's."""
    fit = valving_calibration.fitted

    def shared(other: Job) -> Any:
        mine, theirs = tarn.programme, other.programme
        same = mine.kit.dampers == theirs.kit.dampers and mine.workshop.discs == theirs.workshop.discs
        return fit(job if same and other.loaded.files == tarn.files else other)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(valving_calibration, "fitted", shared)
        yield


@pytest.fixture(scope="session")
def dunnock(kept: Kept) -> Job:
    """The packaged pick-up on wishbones and leaf springs, with all that its studies share."""
    with as_file(files("tussock").joinpath("data/dunnock")) as folder:
        return job_of(load(folder / "programme.yaml"), kept)


@pytest.fixture(scope="session")
def vary_dunnock(dunnock: Job, kept: Kept) -> Vary:
    """Make a job of the Dunnock with fields changed."""

    def make(changes: dict[str, Any]) -> Job:
        loaded = varied(dunnock.loaded, without_drives(changes))
        changed = Job(loaded, kept)
        changed.__dict__["dyno_tests"] = dunnock.dyno_tests
        return changed

    return make
