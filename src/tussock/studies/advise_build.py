"""What to change on the vehicle for an advised build: parts in the workshop's words, and the forces to valve to."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from tussock.mechanics.dampers import BANDS, ForceCurve
from tussock.mechanics.tuning import Point
from tussock.studies import parts
from tussock.studies.adjusters import ADJUSTERS
from tussock.studies.advise_ground import amounts, kind_of, moved, shown_amount
from tussock.studies.display import show
from tussock.studies.job import ENDS
from tussock.studies.result import Cell, Column, Table

if TYPE_CHECKING:
    from tussock.studies.advise import Advised

SPEEDS = (0.05, 0.13, 0.26, 0.52, 0.8)
"""At which wanted forces are told [m/s]."""
_CLOSE = 0.08  # of force: a damper of the kit that is so near is taken as it is
_HOW = {
    "low": "bleed and the stack's preload",
    "mid": "discs of the {direction} stack",
    "high": "more or thicker discs of the {direction} stack, then its ports",
}


def title_of(key: str) -> str:
    """Return an adjuster's title."""
    return ADJUSTERS[key].title


def amount_at(found: Advised, key: str, point: Point) -> float:
    """Return what an adjuster is at a point: slope [N s/m], rate, pressure."""
    i = next(i for i, a in enumerate(found.ground.axes) if a.key == key)
    factor = float(found.ground.factors(np.array([point]))[0, i])
    return amounts(found.job, found.ground.setup)[key] * factor


def amount_words(found: Advised, key: str, point: Point) -> str:
    """Write it."""
    return shown_amount(key, amount_at(found, key, point))


def tables(found: Advised, new: Point, base: Point) -> tuple[Table, ...]:
    """Return what changes from one build to another: adjuster by adjuster, and the dampers' forces."""
    changes = moved(found.ground, new, base)
    rows: list[tuple[Cell, ...]] = [
        (
            axis.title,
            amount_words(found, axis.key, base),
            amount_words(found, axis.key, new),
            axis.factor(levels) - 1.0,
            _how(found, axis.key, new),
        )
        for axis, levels in changes
    ]
    first = Table(
        key="changes",
        title="What to change for the next build",
        columns=(
            Column(key="adjuster", title="Adjuster"),
            Column(key="now", title="Is"),
            Column(key="then", title="Becomes"),
            Column(key="by", title="Change", kind="share", digits=0, sign=True),
            Column(key="how", title="With what"),
        ),
        rows=tuple(rows),
        note="of dampers the slope of force over the speed band; what moves a band most is common practice, no source",
    )
    forces = _force_table(found, new, base)
    return (first, forces) if forces.rows else (first,)


def _how(found: Advised, key: str, point: Point) -> str:
    this, kind = ADJUSTERS[key], kind_of(key)
    amount = amount_words(found, key, point)
    if kind == "damping":
        return _HOW[this.bands[0]].format(direction=this.directions[0])
    if kind == "spring":
        return f"spring of {amount} that holds the same height"
    if kind == "bar":
        return f"bar of {amount}"
    return f"set {amount} cold"


def curves(found: Advised, point: Point) -> Mapping[str, ForceCurve]:
    """Return both axles' damper curves at a point."""
    factors = dict(zip(found.ground.keys, found.ground.factors(np.array([point]))[0], strict=True))
    out: dict[str, ForceCurve] = {}
    for end in ENDS:
        scale = {
            (d, b): float(factors[f"{end}_{d}_{b}"])
            for d in ("rebound", "compression")
            for b in BANDS
            if factors.get(f"{end}_{d}_{b}", 1.0) != 1.0
        }
        fitted = found.scene.fitted.ends[end].curve
        out[end] = fitted.scaled(scale) if scale else fitted  # type: ignore[arg-type]
    return out


def _force_table(found: Advised, new: Point, base: Point) -> Table:
    """Return what the dampers must give, for those axles whose dampers change."""
    ends = [
        e for e in ENDS if any(a.kind == "damping" and a.key.startswith(e) for a, _ in moved(found.ground, new, base))
    ]
    old, wanted = curves(found, base), curves(found, new)
    rows: list[tuple[Cell, ...]] = []
    for end in ends:
        for v in SPEEDS:
            rows.append(
                (
                    end,
                    v,
                    *(abs(c[end].force_at(-v)) for c in (old, wanted)),
                    *(abs(c[end].force_at(v)) for c in (old, wanted)),
                )
            )
    near = "; ".join(_nearest(found, end, wanted[end]) for end in ends)
    return Table(
        key="forces",
        title="Damper forces to valve to",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="speed", title="Speed", kind="velocity"),
            Column(key="rebound_now", title="Rebound is", kind="force"),
            Column(key="rebound", title="Rebound wanted", kind="force"),
            Column(key="compression_now", title="Compression is", kind="force"),
            Column(key="compression", title="Compression wanted", kind="force"),
        ),
        rows=tuple(rows),
        note=f"without gas force and friction; {near}" if near else "without gas force and friction",
    )


def _nearest(found: Advised, end: str, wanted: ForceCurve) -> str:
    """Say which damper of the kit is nearest to a wanted curve, and how one that fits is found."""
    own = {n: d for n, d in found.job.programme.kit.dampers.items() if d.axle == end}
    if not own:
        return f"the kit has no {end} damper"
    # below the first of these the shape of a bleed counts more than its size
    speeds = np.array([*(-v for v in SPEEDS[1:]), *SPEEDS[1:]])
    force = np.abs(wanted.at(speeds))

    def miss(name: str) -> float:
        there = np.abs(found.job.curve(own[name]).at(speeds))
        return float(np.sqrt(np.mean((there / np.maximum(force, 1.0) - 1.0) ** 2)))

    name = min(own, key=miss)
    off = miss(name)
    if off <= _CLOSE:
        return f"{name} gives that within {show(off, 'share', digits=0)}"
    fitted, _ = parts.damper_choice(found.job, found.ground.setup, end)
    return (
        f"{end}: {name} is nearest of the kit, {show(off, 'share', digits=0)} off; "
        f"`tussock find-stack --damper {fitted}` finds the discs"
    )
