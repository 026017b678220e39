"""Bump stops that come with Tussock: force curves as data, invented, to try before one's own are measured."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from types import MappingProxyType
from typing import Any

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.springs import BumpStop, in_series
from tussock.record.parts import BumpStop as Record


@dataclass(frozen=True, kw_only=True, eq=False)
class LibraryStop:
    """One stop of the library: what people call it, and its curve."""

    title: str
    stop: BumpStop


def stop_of(record: Any, *, spacer: float = 0.0) -> BumpStop:
    """Return the stop of a record, with a spacer [m] under it."""
    return BumpStop(
        compression=np.array([p.at for p in record.curve]),
        force=np.array([p.force for p in record.curve]),
        free_height=float(record.free_height),
        spacer=spacer,
        loss=0.0 if record.loss is None else float(record.loss),
    )


@functools.cache
def stop_library() -> Mapping[str, LibraryStop]:
    """Return the library by name, in the order of its file."""
    from ruamel.yaml import YAML

    text = files("tussock").joinpath("data/stops.yaml").read_text(encoding="utf-8")
    table: dict[str, dict[str, Any]] = YAML(typ="safe").load(text)
    out: dict[str, LibraryStop] = {}
    for name, entry in table.items():
        fields = {k: v for k, v in entry.items() if k != "title"}
        out[name] = LibraryStop(title=entry["title"], stop=stop_of(Record.model_validate(fields)))
    return MappingProxyType(out)


def stack(*names: str, spacer: float = 0.0, own: Mapping[str, Any] | None = None) -> BumpStop:
    """Return stops stood on each other, with a spacer [m] under them.

    Parameters
    ----------
    *names : str
        Of the programme's own stops, or else of the library.
    spacer : float
        Height of a rigid spacer under them [m].
    own : mapping, optional
        The programme's own stops, as recorded.

    Raises
    ------
    InputError
        For no name, or one that is in neither; says which there are.
    """
    every = {n: entry.stop for n, entry in stop_library().items()} | {n: stop_of(r) for n, r in (own or {}).items()}
    unknown = [n for n in names if n not in every]
    if unknown or not names:
        raise InputError(f"there is no bump stop {(unknown or [''])[0]!r}; there are {', '.join(every)}")
    return functools.reduce(in_series, (every[n] for n in names)).with_spacer(spacer)
