"""Coils of tapered wire or variable pitch: load curve, the turn worked hardest, shape against measurement."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.springs import permissible_solid_stress
from tussock.studies.display import show
from tussock.studies.result import Axis, Line, LineChart, Mark, Notice
from tussock.studies.spring_laws import SpringLaw, spring_law
from tussock.studies.spring_work import SpringWork

RATE_ALLOWED = 0.15  # rate from a shape against the measured one [-]: common practice, no source
LENGTH_ALLOWED = 0.03  # free length likewise
_FIRST = 1e-6  # deflection at which the first rate is read [m]


@dataclass(frozen=True, kw_only=True)
class PartStress:
    """Stress in one part of a spring at ride height and at full bump, and its proof stress [Pa]."""

    spring: str
    part: str
    ride: float
    bump: float
    proof: float


def turn_stress(name: str, law: SpringLaw, *, ride: float, bump: float) -> PartStress:
    """Return the stress of the turn of a shaped coil that comes nearest to what its wire bears at full bump."""
    coil = law.shaped
    assert coil is not None
    scale = law.rate / coil.rate_at(coil.free_length - _FIRST)

    def stresses(length: float) -> Floats:
        pressed = min(max(law.free_length - length, 0.0), coil.closing.solid_deflection)
        return np.asarray(scale * coil.stresses_at(coil.free_length - pressed))

    at_ride, at_bump = stresses(ride), stresses(bump)
    turns = (np.arange(at_bump.size) + 0.5) / at_bump.size * coil.turns[-1]
    wires = np.interp(turns, coil.turns, coil.wire)
    permitted = np.array([permissible_solid_stress(float(wire)) for wire in wires])
    worst = int(np.argmax(at_bump / permitted))
    return PartStress(
        spring=name,
        part=f"wire of {show(float(wires[worst]), 'length_fine')} at turn {turns[worst]:.1f}",
        ride=float(at_ride[worst]),
        bump=float(at_bump[worst]),
        proof=float(permitted[worst]),
    )


def shape_remarks(named: str, work: SpringWork, law: SpringLaw) -> list[Notice]:
    """Say where a shape does not give what was measured, and where the coil is solid before full bump."""
    coil, out = law.shaped, []
    assert coil is not None
    rate = coil.rate_at(coil.free_length - _FIRST)
    if abs(rate / law.rate - 1.0) > RATE_ALLOWED or abs(coil.free_length / law.free_length - 1.0) > LENGTH_ALLOWED:
        out.append(
            Notice(
                text=f"{named}: its shape gives {show(rate, 'rate')} and a free length of "
                f"{show(coil.free_length, 'length')}, measured were {show(law.rate, 'rate')} and "
                f"{show(law.free_length, 'length')}",
                remedy="measure the stations again; the form of its load curve hangs on them",
            )
        )
    if law.shortest is not None and work.bump <= law.shortest:
        out.append(
            Notice(
                text=f"{named}: all its coils are closed {show(law.shortest - work.bump, 'length')} before full bump",
                remedy="a taller bump stop, or a coil of fewer turns",
            )
        )
    return out


def load_curves(records: Mapping[str, Any], works: Sequence[SpringWork]) -> tuple[LineChart, ...]:
    """Return load and rate of every shaped coil over its length, with the lengths at which it works."""
    out: list[LineChart] = []
    for work in (w for w in works if w.kind == "shaped"):
        law = spring_law(records[work.name])
        assert law.stages is not None
        assert law.shortest is not None
        length = np.linspace(law.shortest, law.free_length, 201)
        load = law.force(length)
        marks = tuple(
            Mark(text=f"{word} {show(law.rate_at(at), 'rate')}", x=at, y=float(law.force(at)))
            for word, at in (("ride", work.ride), ("full bump", work.bump))
            if law.shortest <= at < law.free_length
        )
        out.append(
            LineChart(
                key=f"{work.name}_load",
                title=f"{work.title[:1].upper()}{work.title[1:]}: load over length, solid to free",
                x=Axis(title="length between its seats", kind="length"),
                y=Axis(title="load", kind="force_k"),
                lines=(Line(label="load", x=tuple(map(float, length)), y=tuple(map(float, load)), role="build"),),
                marks=marks,
            )
        )
    return tuple(out)
