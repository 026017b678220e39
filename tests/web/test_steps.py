"""A long study says what it is at, in words that reach whoever waits for it."""

from __future__ import annotations

from typing import Any, cast

import pytest
from served import SMALL

from tussock.record import load
from tussock.studies.result import Result
from tussock.web import jobs
from tussock.web.desk import Choice
from tussock.web.places import PLACES


class _Pipe:
    """Keeps what a job's process sends."""

    def __init__(self) -> None:
        self.sent: list[tuple[str, Any]] = []

    def send(self, what: tuple[str, Any]) -> None:
        self.sent.append(what)

    def close(self) -> None:
        pass


def test_the_steps_of_a_job_name_what_is_driven(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "programme.yaml"
    path.write_text(SMALL, encoding="utf-8")
    assert load(path, check_files=False)

    def run(self: Any, job: Any, **words: Any) -> Result:
        job.tell("driving A over the loop, bare")
        return cast(Result, None)

    monkeypatch.setattr(type(PLACES["drive"]), "run", run)
    pipe = _Pipe()
    jobs._in_process(cast(Any, pipe), path, "drive", Choice(), {}, {})
    steps = [content for kind, content in pipe.sent if kind == "step"]
    assert steps[-1] == (1, 1, f"{PLACES['drive'].question} driving A over the loop, bare")
