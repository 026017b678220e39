"""Type of the fixture that changes the Tarn."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeAlias

from tussock.studies.job import Job

Vary: TypeAlias = Callable[[dict[str, Any]], Job]
