"""The invented Tarn programme as text, and ways to spoil it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tussock.record import Problem, ProgrammeError, loads

SAMPLE = Path(__file__).parents[1] / "data" / "programmes" / "format-1.yaml"


@pytest.fixture(scope="session")
def tarn_text() -> str:
    """The sample of the released format, which stays as it is; the demo may change."""
    return SAMPLE.read_text(encoding="utf-8")


@pytest.fixture
def tarn_folder(tmp_path: Path, tarn_text: str) -> Path:
    """The sample in a folder of its own with the dyno files that it names, to be spoilt."""
    folder = tmp_path / "tarn"
    (folder / "dyno").mkdir(parents=True)
    (folder / "programme.yaml").write_text(tarn_text, encoding="utf-8")
    for name in loads(tarn_text).programme.files().values():
        (folder / name).write_text("time [s], displacement [mm], force [N]\n", encoding="utf-8")
    return folder


Spoil = Callable[[str, str], tuple[Problem, ...]]


@pytest.fixture
def spoil(tarn_text: str) -> Spoil:
    """Replace one text in the demo and return the problems that reading it gives."""

    def replace(old: str, new: str) -> tuple[Problem, ...]:
        assert old in tarn_text, f"the demo holds no {old!r} any more"
        with pytest.raises(ProgrammeError) as caught:
            loads(tarn_text.replace(old, new, 1), "tarn.yaml")
        return caught.value.problems

    return replace
