"""Understeer: does it under- or oversteer, how far does it roll, and what makes it so?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.mass import combine, static_stability_factor
from tussock.mechanics.motion import Cornering, UndersteerShares, Vehicle, cornering, steady_bend, understeer_shares
from tussock.studies import model, parts
from tussock.studies.display import show
from tussock.studies.job import STOCK, Job, Setup
from tussock.studies.mode_pictures import name_of
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Notice, Result, Role, Row, RowChart, Table

QUESTION = "Does it under- or oversteer, how far does it roll, and what makes it so?"
SPEED, LATERAL = 80.0 / 3.6, 3.0
_LADDER = tuple(np.linspace(0.5, 6.0, 12).tolist())  # lateral accelerations of the curve [m/s^2]
_ROLLS = math.radians(8.0) / 9.80665  # a roll gradient beyond this is much [rad s^2/m]; common practice, no source


@dataclass(frozen=True, kw_only=True)
class Turning:
    """One setup in bends.

    Attributes
    ----------
    setup : Setup
    wheelbase : float
        [m].
    at : Cornering
        Gradients at the lateral acceleration asked for.
    shares : UndersteerShares
        Causes there.
    curve : tuple of pairs
        Lateral acceleration and steer beyond that of a rolling bend [m/s^2], [rad], as far as the tyres hold.
    stability : float
        Static stability factor [-].
    """

    setup: Setup
    wheelbase: float
    at: Cornering
    shares: UndersteerShares
    curve: tuple[tuple[float, float], ...]
    stability: float


def turning(job: Job, setup: Setup, *, speed: float, lateral: float) -> Turning:
    """Return a setup in bends, made once for each job."""
    key = ("turning", setup, speed, lateral)
    if key not in job.memo:
        vehicle, rest = model.vehicle(job, setup), model.rest(job, setup)
        whole = combine([vehicle.body, vehicle.front.mass, vehicle.rear.mass])
        # the body stands as high as it rests; what is unsprung stays at its wheels
        rise = float(rest.q[3]) - vehicle.body.centre[2]
        height = whole.centre[2] + rise * vehicle.body.mass / whole.mass
        track = 0.5 * (parts.track(job, "front") + parts.track(job, "rear"))
        job.memo[key] = Turning(
            setup=setup,
            wheelbase=vehicle.wheelbase,
            at=cornering(vehicle, speed=speed, lateral_acceleration=lateral, rest=rest),
            shares=understeer_shares(vehicle, speed=speed, lateral_acceleration=lateral, rest=rest),
            curve=_curve(vehicle, speed),
            stability=static_stability_factor(track=track, height=height),
        )
    made = job.memo[key]
    assert isinstance(made, Turning)
    return made


def _curve(vehicle: Vehicle, speed: float) -> tuple[tuple[float, float], ...]:
    """Steer beyond the rolling bend's over lateral acceleration, mean of left and right bends."""
    out: list[tuple[float, float]] = [(0.0, 0.0)]
    states: dict[float, Floats | None] = {1.0: None, -1.0: None}
    for lateral in _LADDER:
        steer = 0.0
        for way in (1.0, -1.0):
            try:
                bend = steady_bend(vehicle, speed=speed, lateral_acceleration=way * lateral, start=states[way])
            except SolverError:
                return tuple(out)
            states[way] = bend.state
            steer += 0.5 * way * bend.steer
        out.append((lateral, steer - vehicle.wheelbase * lateral / speed**2))
    return tuple(out)


def study(
    job: Job,
    *,
    fitout: str | None = None,
    build: str | None = None,
    against: str | None = None,
    speed: float = SPEED,
    lateral: float = LATERAL,
) -> Result:
    """Return understeer with its causes, roll gradient and static stability of a build against another's.

    Parameters
    ----------
    job : Job
        The programme.
    fitout, build, against : str, optional
        Which; the first fit-out, the last build and stock unless said.
    speed, lateral : float
        Of the bend to the left [m/s], [m/s^2].

    Returns
    -------
    Result
        Passes unless the vehicle oversteers in that bend.

    Raises
    ------
    InputError
        For a speed or a lateral acceleration that is none.
    """
    if not (math.isfinite(speed) and 3.0 <= speed <= 70.0):
        raise InputError(f"a speed of {show(speed, 'speed')} is outside what is looked at: 11 to 250 km/h")
    if not (math.isfinite(lateral) and 0.5 <= lateral <= 8.0):
        raise InputError(f"a bend at {show(lateral, 'acceleration')} is outside what is looked at: 0.5 to 8 m/s²")
    setup = job.setup(fitout, build)
    other = job.setup(setup.fitout, STOCK if against is None else against)
    here = turning(job, setup, speed=speed, lateral=lateral)
    there = turning(job, other, speed=speed, lateral=lateral)
    notices = _notices(here)
    return Result(
        stage="understeer",
        question=QUESTION,
        answer=_answer(here),
        passes=here.at.understeer >= 0.0,
        provenance=job.provenance(setup),
        notices=tuple(notices),
        pictures=(_causes_picture(here), _curve_picture(here, there)),
        tables=(_gradient_table(here, there), _causes_table(here, there)),
        inputs={
            "fit-out": setup.fitout,
            "build": setup.build,
            "against": other.build,
            "bend": f"{show(speed, 'speed')} at {show(lateral, 'acceleration')}, to the left, hand wheel held",
        },
        values={
            "understeer_rad_s2_per_m": here.at.understeer,
            "roll_gradient_rad_s2_per_m": here.at.roll,
            "static_stability_factor": here.stability,
            "tips_at_m_per_s2": here.at.tips_at,
        },
    )


def _answer(here: Turning) -> str:
    k = here.at.understeer
    way = "understeers" if k >= 0.0 else "oversteers"
    found = {"tyres and weight": here.shares.tyres, **here.shares.causes}
    most = max(found, key=lambda name: found[name] if k >= 0.0 else -found[name])
    speed = here.at.characteristic_speed(here.wheelbase)
    which = "characteristic" if k >= 0.0 else "critical"
    return (
        f"At {show(here.at.bend.lateral_acceleration, 'acceleration')} {name_of(here.setup)} {way} by "
        f"{show(abs(k), 'understeer')}, most of all by {most} ({show(found[most], 'understeer', sign=True)}), its "
        f"{which} speed is {show(speed, 'speed')}; it rolls {show(here.at.roll, 'roll_gradient')} and its static "
        f"stability factor is {show(here.stability, 'ratio')}."
    )


def _notices(here: Turning) -> list[Notice]:
    out: list[Notice] = []
    k = here.at.understeer
    if k < 0.0:
        critical = here.at.characteristic_speed(here.wheelbase)
        out.append(
            Notice(
                text=f"It oversteers at {show(here.at.bend.lateral_acceleration, 'acceleration')}: above "
                f"{show(critical, 'speed')} it would turn round by itself in such a bend",
                remedy="stiffer anti-roll bar or springs in front, softer ones behind, or less roll steer of the rear "
                "axle (level its links); have a specialist drive it on closed ground first",
            )
        )
    else:
        gentle = _gentle(here)
        if gentle < 0.0:
            out.append(
                Notice(
                    text=f"In gentle bends it oversteers by {show(-gentle, 'understeer')} before it understeers",
                    remedy="less roll steer of the rear axle (level its links) or more of the front",
                )
            )
    if here.at.roll > _ROLLS:
        out.append(
            Notice(
                text=f"It rolls {show(here.at.roll, 'roll_gradient')}, which is much",
                remedy="anti-roll bars, a lower load, or a smaller lift",
            )
        )
    return out


def _gentle(here: Turning) -> float:
    """Gradient over the first rungs of the curve [rad s^2/m]; 0 where there are none."""
    if len(here.curve) < 3:
        return 0.0
    (_, zero), *_, (lateral, steer) = here.curve[:3]
    return (steer - zero) / lateral


def _role(one: Turning) -> Role:
    return "stock" if one.setup.stock else "build"


def _causes_picture(here: Turning) -> RowChart:
    shares = here.shares
    found = {"tyres and weight": shares.tyres, **shares.causes, "together": shares.together, "in all": shares.whole}
    return RowChart(
        key="causes",
        title=f"{name_of(here.setup)}: what makes it understeer (right) or oversteer (left)",
        x=Axis(title="understeer gradient", kind="understeer"),
        rows=tuple(
            Row(
                label=name,
                at=value,
                low=value,
                high=value,
                role="governs" if name == "in all" else "build",
                text=show(value, "understeer", sign=True),
            )
            for name, value in found.items()
        ),
        zero_label="neutral",
        bars=True,
    )


def _curve_picture(here: Turning, there: Turning) -> LineChart:
    both = (here,) if here.setup == there.setup else (there, here)
    return LineChart(
        key="steer",
        title="Hand wheel's angle by its ratio beyond that of a rolling bend; a rising curve understeers",
        x=Axis(title="lateral acceleration", kind="acceleration"),
        y=Axis(title="steer", kind="angle_fine"),
        lines=tuple(
            Line(
                label=name_of(t.setup),
                x=tuple(a for a, _ in t.curve),
                y=tuple(s for _, s in t.curve),
                role=_role(t),
                marked=False,
            )
            for t in both
        ),
    )


def _gradient_table(here: Turning, there: Turning) -> Table:
    def row(one: Turning) -> tuple[Cell, ...]:
        c = one.at
        return (
            name_of(one.setup),
            c.understeer,
            c.characteristic_speed(one.wheelbase) if c.understeer >= 0.0 else None,
            c.characteristic_speed(one.wheelbase) if c.understeer < 0.0 else None,
            c.roll,
            c.front_share,
            one.stability,
            c.tips_at / 9.80665,
        )

    rows = (row(here),) if here.setup == there.setup else (row(here), row(there))
    return Table(
        key="gradients",
        title="In the bend",
        columns=(
            Column(key="build", title="Build"),
            Column(key="understeer", title="Understeer", kind="understeer", sign=True),
            Column(key="characteristic", title="Characteristic speed", kind="speed"),
            Column(key="critical", title="Critical speed", kind="speed"),
            Column(key="roll", title="Roll", kind="roll_gradient"),
            Column(key="front", title="Load transfer in front", kind="share"),
            Column(key="stability", title="Static stability factor", kind="ratio"),
            Column(key="tips", title="Inner wheels lift, g", kind="ratio"),
        ),
        rows=rows,
        note="gradients of ISO 4138 at a held speed; static stability factor NHTSA, 65 FR 34998; the inner wheels lift "
        "where the load transfer would take their load, the tyres holding, suspension and tyres as in the bend",
    )


def _causes_table(here: Turning, there: Turning) -> Table:
    names = ("tyres and weight", *here.shares.causes, "together", "in all")

    def values(one: Turning) -> tuple[float, ...]:
        s = one.shares
        return (s.tyres, *s.causes.values(), s.together, s.whole)

    rows: tuple[tuple[Cell, ...], ...] = tuple(zip(names, values(here), values(there), strict=True))
    return Table(
        key="causes",
        title="What makes it so",
        columns=(
            Column(key="cause", title="Cause"),
            Column(key="here", title=name_of(here.setup), kind="understeer", sign=True),
            Column(key="against", title=name_of(there.setup), kind="understeer", sign=True),
        ),
        rows=rows,
        strong=(len(rows) - 1,),
        note="each cause is the whole less the vehicle without it; tyres and weight is the vehicle without any; "
        "together is what the causes do to each other",
    )
