"""Hardpoints: which of them moves what, and how sure are the characteristics?"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Wheel
from tussock.mechanics.linkage.sensitivity import (
    CHARACTERISTICS,
    Sensitivity,
    Spread,
    axle_characteristics,
    sensitivity,
    wheel_characteristics,
)
from tussock.studies import model, parts, suspensions
from tussock.studies.display import show
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.result import Cell, Column, Notice, Result, Table
from tussock.studies.suspensions import Fitting, Suspension

QUESTION = "Which hardpoint moves what, and how sure are the figures?"
_NAMED = 3  # hardpoints named for each characteristic


@dataclass(frozen=True, kw_only=True)
class Effects:
    """Effects of the hardpoints of one axle at kerb.

    Attributes
    ----------
    end : str
        Axle.
    moved : Sensitivity
        With both sides moved together: a bracket, a jig.
    spread : Spread or None
        With each side measured for itself; None where no hardpoint carries a +-.
    """

    end: str
    moved: Sensitivity
    spread: Spread | None


def effects(job: Job, end: str) -> Effects:
    """Return how the characteristics of an axle, as measured, move with its hardpoints."""
    heave = model.posture(job, Setup(fitout=KERB, build=STOCK))[end].heave
    points = parts.hardpoints(job, end)
    spring = parts.fitted_spring(job, Setup(fitout=KERB, build=STOCK), end)

    def build(moved: Mapping[str, Floats]) -> Suspension:
        fitting = Fitting(changes={}, rod_lengths={}, spring=spring, hardpoints={**points, **moved})
        return suspensions.build(job, end, fitting)

    def measure(suspension: Suspension) -> Mapping[str, float]:
        if isinstance(suspension, Wheel):
            return wheel_characteristics(suspension, heave)
        return axle_characteristics(suspension, heave)

    base = np.array(list(measure(build({})).values()))
    own = {n: p for n, p in points.items() if _moves(build, measure, base, n, p)}
    record = job.programme.vehicle.axles[end].hardpoints
    tolerances = {n: record[n].spread for n in own if n in record and record[n].spread > 0.0}
    together = sensitivity(build, own, measure)
    spread = None
    if tolerances:
        # one wheel is built by itself; the sides of an axle are measured each for itself
        one_wheel = suspensions.independent(job, end)
        apart = together if one_wheel else sensitivity(build, own, measure, sides="apart")
        spread = apart.spread(tolerances)
    return Effects(end=end, moved=together, spread=spread)


def _moves(
    build: Callable[[Mapping[str, Floats]], Suspension],
    measure: Callable[[Suspension], Mapping[str, float]],
    base: Floats,
    name: str,
    point: Floats,
) -> bool:
    """Return whether a hardpoint moves anything: the ends of a damper do not, and need no derivative."""
    moved = {name: point + np.array([1e-3, 0.7e-3, 1.3e-3])}
    return bool(np.any(np.abs(np.array(list(measure(build(moved)).values())) - base) > 1e-9))


def study(job: Job, *, end: str | None = None) -> Result:
    """Return which hardpoint moves which characteristic, and the uncertainty that the measuring leaves.

    Parameters
    ----------
    job : Job
        The programme.
    end : str, optional
        "front" or "rear"; both unless said.

    Returns
    -------
    Result
        Passes always; a notice says where hardpoints carry no uncertainty.
    """
    if end is not None and end not in ENDS:
        raise InputError(f"there is no axle {end!r}; say front or rear")
    found = tuple(effects(job, e) for e in (ENDS if end is None else (end,)))
    notices = tuple(
        Notice(
            text=f"No hardpoint of the {f.end} axle says how sure it is",
            remedy="write them as 612, 428, 333 mm +- 2 mm",
        )
        for f in found
        if f.spread is None
    )
    return Result(
        stage="hardpoints",
        question=QUESTION,
        answer=_answer(found),
        passes=True,
        provenance=job.provenance(),
        notices=notices,
        tables=(*(_table(f) for f in found), *(_matrix(f) for f in found)),
        inputs={f"{f.end} hardpoints": f"{len(f.moved.hardpoints)} that move something" for f in found},
        values={
            f"{f.end}_{name}_uncertainty_{CHARACTERISTICS[name].unit.replace('/', '_per_')}": float(f.spread.total[i])
            for f in found
            if f.spread is not None
            for i, name in enumerate(f.spread.characteristics)
        },
    )


def _answer(found: Sequence[Effects]) -> str:
    said: list[str] = []
    for f in found:
        for name in ("caster", "roll_centre_height"):
            if name in f.moved.characteristics:
                at = f.moved.characteristics.index(name)
                place, slope = f.moved.strongest(name, 1)[0]
                kind = "length_fine" if CHARACTERISTICS[name].unit == "m" else "angle_fine"
                text = (
                    f"the {f.end} {name.replace('_', ' ')} is {show(float(f.moved.values[at]), kind)}"
                    + (f" +- {show(float(f.spread.total[at]), kind)}" if f.spread is not None else "")
                    + f" and moves most with {place.replace('_', ' ')} ({show(slope * 1e-3, kind, sign=True)} per mm)"
                )
                said.append(text)
                break
    return "; ".join(said)[:1].upper() + "; ".join(said)[1:] + "."


_DEG = 180.0 / math.pi
#: Factor from SI, digits and unit in which a characteristic is shown, by its SI unit.
_UNITS: Mapping[str, tuple[float, int, str]] = {
    "m": (1e3, 1, "mm"),
    "rad": (_DEG, 2, "deg"),
    "-": (1.0, 3, ""),
    "rad/m": (_DEG, 2, "deg/m"),
    "m/rad": (1e3 / _DEG, 2, "mm/deg"),
    "N": (1.0, 0, "N"),
    "N/m": (1e-3, 2, "N/mm"),
    "N m/rad": (1.0 / _DEG, 1, "N m/deg"),
}


def _unit(name: str) -> tuple[float, int, str]:
    return _UNITS[CHARACTERISTICS[name].unit]


def _table(f: Effects) -> Table:
    """Return every characteristic with its uncertainty and what moves it most."""
    rows: list[tuple[Cell, ...]] = []
    for i, name in enumerate(f.moved.characteristics):
        factor, digits, unit = _unit(name)
        strongest = f.moved.strongest(name, _NAMED)
        top = max((abs(s) for _, s in strongest), default=0.0)
        if top * factor * 1e-3 < 0.5 * 10.0 ** -(digits + 1):
            continue
        rows.append(
            (
                CHARACTERISTICS[name].title,
                unit,
                f"{f.moved.values[i] * factor:.{digits}f}".replace("-", "−"),
                f"{f.spread.total[i] * factor:.{digits}f}" if f.spread is not None else None,
                *(
                    f"{place.replace('_', ' ')}: {slope * factor * 1e-3:+.{digits + 1}f}".replace("-", "−")
                    for place, slope in strongest
                ),
            )
        )
    return Table(
        key=f"{f.end}_effects",
        title=f"{f.end.capitalize()} axle at kerb: value, uncertainty, and what one millimetre does",
        columns=(
            Column(key="characteristic", title="Characteristic"),
            Column(key="unit", title="Unit"),
            Column(key="value", title="Value"),
            Column(key="uncertainty", title="+-"),
            Column(key="first", title="Moves most with, per mm"),
            Column(key="second", title="then"),
            Column(key="third", title="then "),
        ),
        rows=tuple(rows),
        note="+- is one standard uncertainty, every coordinate of every point measured for itself "
        "(JCGM 100:2008, 5.1.2); what one millimetre does holds for both sides moved together",
    )


def _matrix(f: Effects) -> Table:
    """Return the whole sensitivity table: change per millimetre of every hardpoint's x, y and z."""
    names = [
        n
        for n in f.moved.characteristics
        if np.any(np.abs(f.moved.derivative[f.moved.characteristics.index(n)]) > 1e-9)
    ]
    rows: list[tuple[Cell, ...]] = []
    for k, point in enumerate(f.moved.hardpoints):
        for axis in range(3):
            cells: list[Cell] = []
            for name in names:
                factor, digits, _ = _unit(name)
                value = f.moved.derivative[f.moved.characteristics.index(name), k, axis] * factor * 1e-3
                text = f"{value:+.{digits + 1}f}"
                cells.append(text.replace("-", "−") if float(text) != 0.0 else "0")
            rows.append((f"{point}.{'xyz'[axis]}", *cells))
    return Table(
        key=f"{f.end}_sensitivity",
        title=f"{f.end.capitalize()} axle: change per millimetre of each hardpoint",
        columns=(
            Column(key="hardpoint", title="Hardpoint"),
            *(Column(key=name, title=f"{CHARACTERISTICS[name].title}, {_unit(name)[2] or 'ratio'}") for name in names),
        ),
        rows=tuple(rows),
        note="both sides moved together; vehicle axes, x forward, y left, z up",
    )
