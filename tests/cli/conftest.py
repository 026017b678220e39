"""Stages that answer at once with invented results, so that these tests are about the command line alone."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType, SimpleNamespace

import pytest

from tussock.errors import InputError
from tussock.studies.result import Result


def _samples() -> ModuleType:
    if "sample_results" not in sys.modules:
        path = Path(__file__).parents[1] / "release" / "sample_results.py"
        spec = importlib.util.spec_from_file_location("sample_results", path)
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules["sample_results"] = module
        spec.loader.exec_module(module)
    return sys.modules["sample_results"]


class FakeJob:
    """A job with two fit-outs and two builds."""

    def __init__(self) -> None:
        header = SimpleNamespace(name="Tarn", title="rescue wagon", note="A wagon.", author="workshop", data="invented")
        self.programme = SimpleNamespace(programme=header)

    def setup(self, fitout: str | None = None, build: str | None = None) -> None:
        if fitout not in (None, "bare", "kerb"):
            raise InputError(f"there is no fit-out {fitout!r}; the programme has bare, and kerb")
        if build not in (None, "A", "B", "stock"):
            raise InputError(f"there is no build {build!r}; the programme has A, B, and stock")


@dataclass
class FakeStage:
    """A stage that remembers what it was asked."""

    name: str
    make: Callable[[], Result]
    asked: dict[str, str | None] | None = None
    title: str = "Stage"
    question: str = "What?"

    def run(self, job: object, *, fitout: str | None, build: str | None, against: str | None) -> Result:
        self.asked = {"fitout": fitout, "build": build, "against": against}
        return self.make()


@pytest.fixture
def programme(tmp_path: Path) -> Path:
    path = tmp_path / "programme.yaml"
    path.write_text("format: 1\n")
    return path


@pytest.fixture
def stages(monkeypatch: pytest.MonkeyPatch) -> dict[str, FakeStage]:
    samples = _samples()
    made = {
        "baseline": FakeStage("baseline", samples.baseline_result),
        "travel": FakeStage("travel", samples.travel_result),
        "dampers": FakeStage("dampers", samples.dampers_result),
    }
    names = ("targets", "heights", "geometry", "drive", "tuning", "release")
    made |= {name: FakeStage(name, samples.baseline_result) for name in names}
    monkeypatch.setattr("tussock.cli.work.stages", lambda: tuple(made.values()))
    monkeypatch.setattr("tussock.cli.work.compile_first", lambda progress: None)
    monkeypatch.setattr("tussock.studies.job.open_job", lambda path: FakeJob())
    return made
