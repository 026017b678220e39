"""Wobble: do the front wheels wobble with the axle, and what calms it?"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.motion import Vehicle
from tussock.mechanics.motion.linear_friction import MotionSize
from tussock.mechanics.motion.steering import Steering
from tussock.mechanics.motion.wobble import Wobble, damper_for, held_by_friction, speed_of, steered, wobbles
from tussock.mechanics.tyre import Tyre
from tussock.studies import model
from tussock.studies.display import show
from tussock.studies.job import STOCK, Job, Setup
from tussock.studies.mode_pictures import name_of
from tussock.studies.modes import LEAST_DAMPING, SPEED, swinging
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Mark, Notice, Result, Role, Table

QUESTION = "Do the front wheels wobble with the axle, and what calms it?"
TOP = 120.0 / 3.6
_LOWEST = 20.0 / 3.6
_SPEEDS = 9
_ARM = 0.15  # of a steering damper about the king pins, where the programme names none [m]
_TILT = math.radians(2.0)  # caster is tried this much either way [rad]
_SOFTER, _FIRMER = 0.8, 1.25
_KNOCK = math.radians(2.0)  # a knock turns the wheels about so far; common practice, no source
_LARGE = math.radians(5.0)  # swings beyond which tyres slide and linear figures say nothing


@dataclass(frozen=True, kw_only=True)
class Variant:
    """One change of the vehicle, and its wobble over the speeds.

    Attributes
    ----------
    name : str
    found : tuple of Wobble
        At each speed.
    grows : float or None
        Lowest speed at which a wobble grows [m/s].
    """

    name: str
    found: tuple[Wobble, ...]
    grows: float | None

    @property
    def worst(self) -> Wobble:
        """Where it is damped least."""
        return min(self.found, key=lambda w: w.least.damping)


def study(
    job: Job,
    *,
    fitout: str | None = None,
    build: str | None = None,
    against: str | None = None,
    top: float = TOP,
    hands_off: bool = False,
) -> Result:
    """Return the damping of steer wobble over speed, and what caster, tyres, steering and a damper do to it.

    Parameters
    ----------
    job : Job
        The programme.
    fitout, build, against : str, optional
        Which; the first fit-out, the last build and stock unless said.
    top : float
        Highest speed looked at [m/s].
    hands_off : bool
        Hand wheel free with its inertia; held unless said.

    Returns
    -------
    Result
        Passes while no wobble grows up to the highest speed, or the steering's friction stops swings of 2 deg.

    Raises
    ------
    InputError
        For a speed that is none.
    """
    if not (math.isfinite(top) and 2.0 * _LOWEST <= top <= 70.0):
        raise InputError(f"a highest speed of {show(top, 'speed')} is outside what is looked at: 40 to 250 km/h")
    setup = job.setup(fitout, build)
    other = job.setup(setup.fitout, STOCK if against is None else against)
    speeds = tuple(np.linspace(_LOWEST, top, _SPEEDS).tolist())
    vehicle, size = model.vehicle(job, setup), _size(job, setup)
    own = _try("as it is", vehicle, speeds, size, hands_off)
    changes = tuple(_try(name, make(vehicle), speeds, size, hands_off) for name, make in CHANGES.items())
    damper = damper_for(vehicle, LEAST_DAMPING, speeds=speeds[::2], size=size, hands_off=hands_off)
    own_damper, worn = steered(vehicle).damper, None
    if own_damper > 0.0:
        worn = _try("without steering damper", _steer(vehicle, damper=0.0), speeds, size, hands_off)
    elif damper:
        name = f"steering damper {show(damper, 'turn_damping')}"
        worn = _try(name, _steer(vehicle, damper=damper), speeds, size, hands_off)
    reference = None
    if other != setup:
        reference = _try(
            name_of(other), model.vehicle(job, other), speeds, _size(job, other), hands_off
        )  # fmt: skip
    every = (own, *changes, *([worn] if worn else ()), *([reference] if reference else ()))
    return Result(
        stage="wobble",
        question=QUESTION,
        answer=_answer(own, _words(job, damper, own_damper), hands_off),
        passes=own.grows is None or held_by_friction(vehicle, own.worst) >= _KNOCK,
        provenance=job.provenance(setup),
        notices=tuple(_notices(vehicle, own, _rate(job, damper) if damper else "")),
        pictures=(
            _picture(
                "wobble", f"{name_of(setup)}, caster and a steering damper", own, (*changes[:2], worn), reference, other
            ),
            _picture("wobble_parts", f"{name_of(setup)}, steering, tyres and wheels", own, changes[2:], None, other),
        ),
        tables=(_table(every, hands_off), _steering_table(steered(vehicle), vehicle)),
        inputs={
            "fit-out": setup.fitout,
            "build": setup.build,
            "against": other.build,
            "speeds": f"{show(speeds[0], 'speed')} to {show(speeds[-1], 'speed')}",
            "hand wheel": "free" if hands_off else "held",
        },
        values={
            "least_damping": own.worst.least.damping,
            "grows_above_m_per_s": math.inf if own.grows is None else own.grows,
            "steering_damper_n_m_s_per_rad": math.nan if damper is None else damper,
        },
    )


def _size(job: Job, setup: Setup) -> MotionSize:
    """Return how much dampers move on a class B road: their slopes count so in every variant."""
    return swinging(job, setup, speed=SPEED, road="B").twin.size


def _try(name: str, vehicle: Vehicle, speeds: Sequence[float], size: MotionSize, hands_off: bool) -> Variant:
    found = wobbles(vehicle, speeds, size=size, hands_off=hands_off)
    return Variant(name=name, found=found, grows=speed_of(vehicle, 0.0, found, size=size, hands_off=hands_off))


def _steer(vehicle: Vehicle, **changes: Any) -> Vehicle:
    return replace(vehicle, steering=replace(steered(vehicle), **changes))


def _tyre(vehicle: Vehicle, change: Callable[[Tyre], Tyre]) -> Vehicle:
    return replace(vehicle, front=replace(vehicle.front, tyre=change(vehicle.front.tyre)))


def _caster(vehicle: Vehicle, by: float) -> Vehicle:
    return _steer(vehicle, caster=steered(vehicle).caster + by)


def _stiffer(vehicle: Vehicle, times: float) -> Vehicle:
    return _steer(vehicle, stiffness=times * steered(vehicle).stiffness)


def _grippier_tyre(tyre: Tyre) -> Tyre:
    """Side stiffness a quarter more on the same carcass: the relaxation length grows with it."""
    return replace(
        tyre,
        cornering_stiffness=_FIRMER * tyre.cornering_stiffness,
        relaxation_length=_FIRMER * tyre.relaxation_length,
    )


def _heavier_wheels(vehicle: Vehicle) -> Vehicle:
    return replace(
        _steer(vehicle, inertia=_FIRMER * steered(vehicle).inertia),
        front=replace(vehicle.front, spin_inertia=_FIRMER * vehicle.front.spin_inertia),
    )


#: What is tried, and the vehicle with it.
CHANGES: dict[str, Callable[[Vehicle], Vehicle]] = {
    "caster 2 deg more": lambda v: _caster(v, _TILT),
    "caster 2 deg less": lambda v: _caster(v, -_TILT),
    "steering 20 % softer": lambda v: _stiffer(v, _SOFTER),
    "steering 25 % stiffer": lambda v: _stiffer(v, _FIRMER),
    "a fifth less pressure": lambda v: _tyre(v, lambda tyre: tyre.inflated(0.8)),
    "tyre side stiffness +25 %": lambda v: _tyre(v, _grippier_tyre),
    "wheels turn 25 % heavier": _heavier_wheels,
}


def _rate(job: Job, damper: float) -> str:
    """Say what a steering damper does at the king pins, and as a damper on its arm."""
    steering = job.programme.vehicle.axles["front"].steering
    arm = _ARM if steering is None or steering.damper_arm is None else float(steering.damper_arm)
    return f"{show(damper, 'turn_damping')} ({show(damper / arm**2, 'damping')} at an arm of {show(arm, 'length')})"


def _words(job: Job, damper: float | None, own: float) -> str:
    """Say which steering damper is wanted, and what the vehicle's own one is."""
    if damper is None:
        return f"no steering damper alone keeps it damped {LEAST_DAMPING:.2f}"
    if damper == 0.0:
        return "no steering damper is needed"
    text = f"a steering damper of {_rate(job, damper)} keeps it above {LEAST_DAMPING:.2f}"
    return text if own == 0.0 else f"{text}, its own has {show(own, 'turn_damping')}"


def _answer(own: Variant, damper: str, hands_off: bool) -> str:
    worst, top = own.worst, own.found[-1].speed
    held = "free" if hands_off else "held"
    if own.grows is None:
        text = (
            f"Hand wheel {held}, wobble stays damped up to {show(top, 'speed')}, least at {show(worst.speed, 'speed')} "
            f"with {show(worst.least.damping, 'damping_ratio')} at {show(worst.least.frequency, 'frequency', digits=1)}"
        )
    else:
        text = (
            f"Hand wheel {held}, wobble grows by itself above {show(own.grows, 'speed')} at "
            f"{show(worst.least.frequency, 'frequency', digits=1)}, but for the steering's own friction"
        )
    return f"{text}; {damper}."


def _notices(vehicle: Vehicle, own: Variant, damper: str) -> list[Notice]:
    out: list[Notice] = []
    worst = own.worst
    help_ = "stiffen or renew rods, gear mounts, king-pin and arm bushes, take out play, balance the wheels"
    if damper:
        help_ = f"a steering damper of {damper}, and {help_}"
    if own.grows is not None:
        held = min(held_by_friction(vehicle, worst), _LARGE)
        friction = f"; at {show(worst.speed, 'speed')} its friction stops swings up to {show(held, 'angle')}"
        out.append(
            Notice(
                text=f"Above {show(own.grows, 'speed')} a wobble that a knock starts can grow, but for the steering's "
                f"friction{friction if held > 0.0 else ''}",
                remedy=f"do not rely on friction, which wears: {help_}; have the steering examined by someone licensed",
            )
        )
    elif worst.least.damping < LEAST_DAMPING:
        damping = show(worst.least.damping, "damping_ratio")
        out.append(
            Notice(
                text=f"At {show(worst.speed, 'speed')} the wobble is damped {damping} only: a knock rings on, and wear "
                "or play may let it grow",
                remedy=help_,
            )
        )
    return out


def _picture(
    key: str,
    title: str,
    own: Variant,
    changes: Sequence[Variant | None],
    reference: Variant | None,
    other: Setup,
) -> LineChart:
    def line(v: Variant, role: Role) -> Line:
        return Line(
            label=v.name,
            x=tuple(w.speed for w in v.found),
            y=tuple(w.least.damping for w in v.found),
            role=role,
            marked=False,
        )

    lines = [line(own, "build"), *(line(v, "build") for v in changes if v is not None)]
    if reference is not None:
        lines.append(line(reference, "stock" if other.stock else "build"))
    return LineChart(
        key=key,
        title=f"{title}: damping of the wobble over speed; below 0 it grows",
        x=Axis(title="speed", kind="speed"),
        y=Axis(title="damping ratio of the less damped mode", kind="damping_ratio"),
        lines=tuple(lines),
        marks=(Mark(text=f"wanted {LEAST_DAMPING:.2f}", y=LEAST_DAMPING, role="target"),),
    )


def _table(every: Sequence[Variant], hands_off: bool) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for v in every:
        worst = v.worst
        rows.append(
            (
                v.name,
                worst.speed,
                worst.least.words,
                worst.least.frequency,
                worst.least.damping,
                max(worst.steering, worst.tramp, key=lambda m: m.damping).damping,
                v.grows,
            )
        )
    return Table(
        key="wobble",
        title="Where each is damped least",
        columns=(
            Column(key="change", title="Change"),
            Column(key="speed", title="At", kind="speed"),
            Column(key="mode", title="Motion"),
            Column(key="frequency", title="Frequency", kind="frequency", digits=1),
            Column(key="damping", title="Damping ratio", kind="damping_ratio"),
            Column(key="other", title="of the other mode", kind="damping_ratio"),
            Column(key="grows", title="Grows above", kind="speed"),
        ),
        rows=tuple(rows),
        strong=(0,),
        note=f"hand wheel {'free' if hands_off else 'held'}; dampers with their slope on a class B road, dry friction "
        "of the steering left out: it stops small swings besides. Play in joints and wheel imbalance are not in the "
        "model and make it worse. Never look for a wobble on a public road",
    )


def _steering_table(steering: Steering, vehicle: Vehicle) -> Table:
    rows: tuple[tuple[Cell, ...], ...] = (
        ("caster", show(steering.caster, "angle")),
        ("trail at the ground", show(steering.trail(vehicle.front.tyre.free_radius), "length")),
        ("stiffness of rods, gear, frame and column", show(steering.stiffness, "roll_rate")),
        ("steering damper", show(steering.damper, "turn_damping")),
        ("friction", show(steering.friction, "torque")),
        ("inertia of both wheels about the king pins", show(steering.inertia, "inertia_fine")),
    )
    return Table(
        key="steering",
        title="The steering, as it counts at the king pins",
        columns=(Column(key="what", title="What"), Column(key="value", title="Value")),
        rows=rows,
    )
