"""Springs of every kind as mechanics computes with them: a force over one length that shortens in bump.

A coil's length is the distance of its seats. A leaf spring's is its arch, eyes over seat. A torsion bar's is how far
the lower arm hangs below its place at kerb, as the end of a lever of one metre: its rate in N/m is then the bar's in
N m/rad.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from tussock.errors import DomainError, InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.springs import CoilSpring, ShapedCoil, ShapedLaw, TorsionBar, TwoStageLeaf
from tussock.record.springs import LeafSpring


@dataclass(frozen=True, kw_only=True)
class SpringLaw:
    """A spring of the record, computed.

    Attributes
    ----------
    kind : str
        "coil", "leaf", "torsion_bar".
    rate : float
        Where it begins to carry [N/m].
    rate_spread : float
        Standard uncertainty [N/m].
    free_length, free_length_spread : float
        Length at which it begins to carry [m].
    words : str
        Its data as the programme writes them.
    coil : CoilSpring or None
        Of a coil whose dimensions are known.
    stages : TwoStageLeaf, ShapedLaw or None
        Of a leaf spring with helper leaves, or a coil of tapered wire or variable pitch.
    friction : float
        Half the width of its loop [N].
    leaf : LeafSpring of the record, or None
        Its leaves, for the linkage that it is part of.
    """

    kind: str
    rate: float
    rate_spread: float
    free_length: float
    free_length_spread: float
    words: str
    coil: CoilSpring | None = None
    stages: TwoStageLeaf | ShapedLaw | None = None
    friction: float = 0.0
    leaf: LeafSpring | None = None

    @property
    def shaped(self) -> ShapedCoil | None:
        """Its coil, where it is none of one wire, diameter and pitch."""
        return self.stages.coil if isinstance(self.stages, ShapedLaw) else None

    @property
    def shortest(self) -> float | None:
        """Shortest length allowed of a coil of known dimensions [m]; of a shaped one its solid length."""
        if self.shaped is not None:
            return self.free_length - self.shaped.closing.solid_deflection
        return self.coil.least_length if self.coil is not None else None

    @property
    def rate_kind(self) -> str:
        """Display kind of its rate."""
        return "roll_rate" if self.kind == "torsion_bar" else "rate"

    @property
    def length_kind(self) -> str:
        """Display kind of its length."""
        return "angle" if self.kind == "torsion_bar" else "length"

    @property
    def length_name(self) -> str:
        """What its length without load is called."""
        return {"coil": "free length", "leaf": "free arch", "torsion_bar": "free angle"}[self.kind]

    def force(self, length: Floats | float) -> Floats:
        """Return the force at lengths [m], none beyond free [N]."""
        pressed = np.maximum(self.free_length - np.asarray(length, dtype=np.float64), 0.0)
        return self.stages.force(pressed) if self.stages is not None else np.asarray(self.rate * pressed)

    def further_force(self, length: Floats | float) -> Floats:
        """Return the force at lengths beyond what `rate` gives [N]: of helper leaves, of closing coils."""
        pressed = np.maximum(self.free_length - np.asarray(length, dtype=np.float64), 0.0)
        return np.asarray(self.force(length) - self.rate * pressed)

    def rate_at(self, length: float) -> float:
        """Return the rate at a length at which it carries [N/m]."""
        if self.stages is None:
            return self.rate
        return float(self.stages.rate(np.array([self.free_length - length]))[0])


def coil_of(spring: Any) -> CoilSpring | None:
    """Return the coil of a record spring, None without its dimensions; DomainError if they cannot be."""
    if spring.kind != "coil" or spring.wire is None or spring.mean_diameter is None or spring.active_coils is None:
        return None
    return CoilSpring(
        wire=float(spring.wire),
        mean_diameter=float(spring.mean_diameter),
        active_coils=float(spring.active_coils),
        free_length=float(spring.free_length),
    )


def _shaped(record: Any) -> ShapedCoil:
    def column(name: str) -> Floats:
        return np.array([float(getattr(station, name)) for station in record.shape])

    try:
        return ShapedCoil(
            turns=column("turns"),
            wire=column("wire"),
            mean_diameter=column("mean_diameter"),
            pitch=column("pitch"),
            end_length=float(record.end_coils),
        )
    except DomainError as error:
        raise InputError(f"{record.title}: {error}") from None


def _coil(record: Any) -> SpringLaw:
    stages = None
    words = f"{record.rate}, free {record.free_length}"
    if record.shape:
        stages = ShapedLaw(coil=_shaped(record), main_rate=float(record.rate))
        words += f", {len(record.shape)} stations of wire, diameter and pitch"
    return SpringLaw(
        kind="coil",
        rate=float(record.rate),
        rate_spread=record.rate.spread,
        free_length=float(record.free_length),
        free_length_spread=record.free_length.spread,
        words=words,
        coil=coil_of(record),
        stages=stages,
    )


def _leaf(record: Any) -> SpringLaw:
    stages = None
    words = f"{record.rate}, free arch {record.free_arch}"
    if record.second_rate is not None:
        stages = TwoStageLeaf(
            main_rate=float(record.rate),
            helper_rate=float(record.second_rate) - float(record.rate),
            contact=float(record.second_at),
            blend=float(record.second_over),
        )
        words = f"{record.rate}, then {record.second_rate} from {record.second_at}, free arch {record.free_arch}"
    return SpringLaw(
        kind="leaf",
        rate=float(record.rate),
        rate_spread=record.rate.spread,
        free_length=float(record.free_arch),
        free_length_spread=record.free_arch.spread,
        words=words,
        stages=stages,
        friction=float(record.friction),
        leaf=record,
    )


def _torsion_bar(record: Any) -> SpringLaw:
    bar = TorsionBar(
        diameter=float(record.diameter),
        length=float(record.length),
        inner_diameter=float(record.inner_diameter) if record.inner_diameter is not None else 0.0,
    )
    return SpringLaw(
        kind="torsion_bar",
        rate=float(record.rate) if record.rate is not None else bar.torsional_rate,
        rate_spread=record.rate.spread if record.rate is not None else 0.0,
        free_length=float(record.free_angle),
        free_length_spread=record.free_angle.spread,
        words=f"diameter {record.diameter}, free {record.free_angle} below kerb",
    )


_LAWS: Mapping[str, Callable[[Any], SpringLaw]] = {"coil": _coil, "leaf": _leaf, "torsion_bar": _torsion_bar}


def spring_law(record: Any) -> SpringLaw:
    """Return a spring of the record as a law; DomainError if its dimensions cannot be."""
    return _LAWS[record.kind](record)
