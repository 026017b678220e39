"""Type of the fixture that changes the Tarn."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeAlias

from tussock.studies.job import Job

Vary: TypeAlias = Callable[[dict[str, Any]], Job]


def without_drives(changes: dict[str, Any]) -> dict[str, Any]:
    """Take the log out first where the road loop or the builds are others: it names sections and builds."""
    others = {"road_loop.sections", "builds"} & set(changes)
    return {"corrections": [], "notes": [], "dyno_runs": [], "drives": [], **changes} if others else changes
