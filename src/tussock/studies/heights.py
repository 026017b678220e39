"""Heights and springs: which spring holds which fit-out at the target height?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from tussock.errors import SolverError
from tussock.mechanics.dampers import damping_ratio
from tussock.mechanics.motion import settle
from tussock.studies import model, parts
from tussock.studies.bag_pressures import bag_notices, bag_rows, bag_table
from tussock.studies.display import show
from tussock.studies.height_board import board
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.load_limits import load_notices, load_table, loads
from tussock.studies.result import Column, Notice, Result, Table
from tussock.studies.ride_frequency import ride_frequency
from tussock.studies.side_view import ramp_table, side_view
from tussock.studies.spring_chart import chart_pictures, chart_table, choices, travel_left
from tussock.studies.spring_laws import spring_law
from tussock.studies.spring_sets import Scatter, lifts, scatter_table, scatters, spring_table

_MANY = 0.10  # share of production outside tolerance that is worth a warning
_MOST_LENGTH = 0.12  # a spring's free length is mended by at most this, then it is another spring [m]
QUESTION = "Which spring holds which fit-out at the target height?"


@dataclass(frozen=True, kw_only=True, slots=True)
class HeightRow:
    """One axle of one fit-out on its springs.

    Attributes
    ----------
    fitout, end, spring : str
        Which.
    lift, target, tolerance : float
        Body height above stock kerb, wanted, and either way [m].
    spread : float
        Standard uncertainty of the lift from spring rate, free length and scales [m].
    frequency : float
        Body on spring and tyre in series [Hz].
    corner_load : float
        Sprung load on one corner [N].
    spring_length : float
        Mean of both sides [m].
    lean : float
        Left side above right side at the wheels [m].
    ratio : float
        Spring travel over axle travel [-].
    mend : str
        What brings it within tolerance; empty if it is.
    """

    fitout: str
    end: str
    spring: str
    lift: float
    target: float
    tolerance: float
    spread: float
    frequency: float
    corner_load: float
    spring_length: float
    lean: float
    ratio: float
    mend: str

    @property
    def off(self) -> float:
        """Lift minus target [m]."""
        return self.lift - self.target

    @property
    def holds(self) -> bool:
        """Whether the target is met within its tolerance."""
        return abs(self.off) <= self.tolerance


def height_rows(job: Job, build: str) -> tuple[HeightRow, ...]:
    """Return every fit-out and axle on the kit's springs with one build's dampers."""
    rows: list[HeightRow] = []
    targets = job.programme.targets
    for name in job.programme.fitouts:
        setup = Setup(fitout=name, build=build)
        posture = model.posture(job, setup)
        for end in ENDS:
            at = posture[end]
            rate = model.wheel_rate(job, setup, end)
            tyre = float(job.programme.vehicle.tyre.vertical_stiffness)
            spring = parts.fitted_spring(job, setup, end)
            wanted = targets.lift[name]
            target, tolerance = float(getattr(wanted, end)), float(wanted.tolerance)
            load = parts.static_corner_load(job, name, end)
            # first order: rate and free length move the height directly, each corner of the scales through the rate
            spread = math.hypot(
                (load - model.bag_load(job, setup, end)) / rate * spring.law.rate_spread / spring.rate,
                spring.law.free_length_spread,
                job.programme.vehicle.corners.front_left.spread * 9.80665 / rate,
            )
            rows.append(
                HeightRow(
                    fitout=name,
                    end=end,
                    spring=spring.name,
                    lift=at.lift,
                    target=target,
                    tolerance=tolerance,
                    spread=spread,
                    frequency=ride_frequency(rate=rate, tyre=tyre, sprung_corner=parts.sprung_corner(job, name, end)),
                    corner_load=load,
                    spring_length=at.spring_length,
                    lean=at.lean,
                    ratio=model.spring_ratio(job, setup, end),
                    mend=_mend(job, setup, end, at.lift - target, tolerance),
                )
            )
    return tuple(rows)


def _raised(job: Job, setup: Setup, end: str, more: float) -> float:
    """Return by how much an axle's body rises when its springs stand `more` longer or packed [m]."""
    changed = model.sprung(job, setup, end, parts.fitted_spring(job, setup, end).longer(more))
    at = slice(0, 2) if end == "front" else slice(2, 4)
    return float(np.mean(settle(changed).body_height[at] - model.rest(job, setup).body_height[at]))


def _mend(job: Job, setup: Setup, end: str, off: float, tolerance: float) -> str:
    """Return the packer or length of spring that brings the height within tolerance, found with the vehicle at rest."""
    if abs(off) <= tolerance:
        return ""
    if off < 0.0:
        packers = [(n, float(p.height)) for n, p in job.programme.kit.packers.items() if p.axle == end]
        fit = [(abs(off + _raised(job, setup, end, h)), n) for n, h in packers if n not in _packed(job, setup.fitout)]
        fit = [(miss, name) for miss, name in fit if miss <= tolerance]
        if fit:
            return f"packer {min(fit)[1]}"
    way = math.copysign(1.0, -off)

    def missing(more: float) -> float:
        try:
            return off + _raised(job, setup, end, more)
        except SolverError:
            return math.copysign(1.0, more)  # it rests outside its maps: far too much

    if off * missing(way * _MOST_LENGTH) > 0.0:
        return "another spring"
    more = float(brentq(missing, 0.0, way * _MOST_LENGTH, xtol=1e-5))
    return f"free length {show(more, 'length', sign=True)}"


def _packed(job: Job, fitout: str) -> tuple[str, ...]:
    return tuple(job.programme.fitouts[fitout].packers)


def study(job: Job, *, fitout: str | None = None, build: str | None = None) -> Result:
    """Return the heights of every fit-out on the kit's springs.

    Parameters
    ----------
    job : Job
        The programme.
    fitout : str, optional
        Which is drawn; the first one unless said.
    build : str, optional
        Whose dampers (their gas force lifts a little); the last one unless said.

    Returns
    -------
    Result
        Passes when every fit-out stands within tolerance, leans no more than allowed and rides within its window.
    """
    setup = job.setup(fitout, build)
    rows = height_rows(job, setup.build)
    targets = job.programme.targets
    notices: list[Notice] = []
    missed = [r for r in rows if not r.holds]
    for r in missed:
        notices.append(
            Notice(
                text=f"{_title(job, r.fitout)}, {r.end}: {show(abs(r.off), 'length')} "
                f"{'above' if r.off > 0 else 'below'} target (tolerance {show(r.tolerance, 'length')})",
                remedy=r.mend,
            )
        )
    leaning = [r for r in rows if abs(r.lean) > float(targets.side_to_side)]
    for r in leaning:
        high = "left" if r.lean > 0 else "right"
        notices.append(
            Notice(
                text=f"{_title(job, r.fitout)}, {r.end}: the {high} side stands {show(abs(r.lean), 'length')} higher",
                remedy=f"move load towards the {high}, or pack the low side; "
                f"{show(float(targets.side_to_side), 'length')} is allowed",
            )
        )
    fast: list[HeightRow] = []
    for r in rows:
        window = targets.ride_frequency[r.end]
        if not float(window.least) <= r.frequency <= float(window.most):
            fast.append(r)
            notices.append(
                Notice(
                    text=f"{_title(job, r.fitout)}, {r.end}: rides at {show(r.frequency, 'frequency')}, outside "
                    f"{show(float(window.least), 'frequency')} to {show(float(window.most), 'frequency')}",
                    remedy="another spring rate",
                )
            )
    scattered = scatters(job, setup.build)
    notices.extend(_scatter_notices(job, scattered))
    chosen = choices(job, setup.build)
    carried = loads(job, setup.build)
    overloaded = load_notices(job, carried)
    bags = bag_rows(job, setup.build)
    found = lifts(job, setup.build)
    ramps = ramp_table(job, setup.build)
    notices.extend(bag_notices(job, bags))
    notices.extend(overloaded)
    return Result(
        stage="heights",
        question=QUESTION,
        answer=_answer(job, rows, missed),
        passes=not (missed or leaning or fast or overloaded),
        provenance=job.provenance(setup),
        notices=tuple(notices),
        pictures=(
            board(job, found, {(r.end, r.fitout): r.lift for r in rows}),
            side_view(job, setup),
            *chart_pictures(job, chosen),
        ),
        tables=(
            _heights_table(job, rows),
            spring_table(job, found),
            scatter_table(job, scattered),
            chart_table(job, chosen),
            travel_left(job, setup.build),
            load_table(job, carried),
            *((bag_table(job, bags),) if bags else ()),
            *((ramps,) if ramps.rows else ()),
            _damping_table(job, setup.build),
        ),
        inputs={f"kit.springs.{n}": spring_law(s).words for n, s in job.programme.kit.springs.items()},
        values={f"{r.fitout}_{r.end}_lift_m": r.lift for r in rows},
    )


def _scatter_notices(job: Job, scattered: Sequence[Scatter]) -> list[Notice]:
    """Say where more than a tenth of production would stand outside tolerance."""
    words = {
        "front": ("stand outside tolerance at the front", "a tighter spring, or springs sorted by height"),
        "rear": ("stand outside tolerance at the rear", "a tighter spring, or springs sorted by height"),
        "side": ("lean more than is allowed", "pair springs by height, or pack the low side"),
    }
    return [
        Notice(
            text=f"{_title(job, s.fitout)}: {show(share, 'share', digits=0)} of vehicles would {words[key][0]}",
            remedy=words[key][1],
        )
        for s in scattered
        for key, share in s.outside.items()
        if share > _MANY
    ]


def _title(job: Job, fitout: str) -> str:
    return job.programme.fitouts[fitout].title


def _answer(job: Job, rows: tuple[HeightRow, ...], missed: list[HeightRow]) -> str:
    springs = {e: len({r.spring for r in rows if r.end == e}) for e in ENDS}
    count = len({r.fitout for r in rows})
    plural = "s" if springs["rear"] > 1 else ""
    set_words = f"{_count(springs['front'])} front and {_count(springs['rear'])} rear spring{plural}"
    if missed:
        worst = max(missed, key=lambda r: abs(r.off) - r.tolerance)
        return (
            f"{set_words.capitalize()} hold {2 * count - len(missed)} of {2 * count} heights; "
            f"{_title(job, worst.fitout).lower()} stands {show(abs(worst.off), 'length')} too "
            f"{'high' if worst.off > 0 else 'low'} at the {worst.end}: {worst.mend} mends it."
        )
    worst = max(rows, key=lambda r: abs(r.off))
    low, high = min(r.frequency for r in rows), max(r.frequency for r in rows)
    return (
        f"{set_words.capitalize()} hold all {_count(count)} fit-outs within tolerance, at worst "
        f"{show(abs(worst.off), 'length')} off ({_title(job, worst.fitout).lower()}, {worst.end}), "
        f"riding at {show(low, 'frequency')} to {show(high, 'frequency')}."
    )


def _count(n: int) -> str:
    words = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
    return words[n] if n < len(words) else str(n)


def _heights_table(job: Job, rows: tuple[HeightRow, ...]) -> Table:
    return Table(
        key="heights",
        title="Heights above stock kerb",
        columns=(
            Column(key="fitout", title="Fit-out"),
            Column(key="axle", title="Axle"),
            Column(key="spring", title="Spring"),
            Column(key="lift", title="Lift", kind="length", sign=True),
            Column(key="spread", title="+-", kind="length"),
            Column(key="target", title="Target", kind="length", sign=True),
            Column(key="off", title="Off by", kind="length", sign=True),
            Column(key="lean", title="Left over right", kind="length", sign=True),
            Column(key="frequency", title="Ride", kind="frequency"),
            Column(key="mend", title="What to do"),
        ),
        rows=tuple(
            (_title(job, r.fitout), r.end, r.spring, r.lift, r.spread, r.target, r.off, r.lean, r.frequency, r.mend)
            for r in rows
        ),
        strong=tuple(i for i, r in enumerate(rows) if not r.holds),
        note="+- is one standard uncertainty from spring rate, free length and scales, to first order",
    )


def _damping_table(job: Job, build: str) -> Table:
    """Return the body's damping ratio at each height."""
    out: list[tuple[float | int | str | bool | None, ...]] = []
    for name in (KERB, *job.programme.fitouts):
        setup = Setup(fitout=name, build=STOCK if name == KERB else build)
        for end in ENDS:
            curve = parts.fitted(job, setup, end).curve
            out.append(
                (
                    "Stock at kerb" if name == KERB else _title(job, name),
                    end,
                    damping_ratio(
                        damping=curve.mean_damping(0.26),
                        motion_ratio=model.damper_ratio(job, setup, end),
                        wheel_rate=model.wheel_rate(job, setup, end),
                        sprung_mass=parts.sprung_corner(job, name, end),
                    ),
                    model.wheel_rate(job, setup, end),
                    parts.sprung_corner(job, name, end),
                )
            )
    return Table(
        key="damping",
        title="What the springs ask of the dampers",
        columns=(
            Column(key="fitout", title="Fit-out"),
            Column(key="axle", title="Axle"),
            Column(key="damping_ratio", title="Damping ratio at 0.26 m/s", kind="ratio"),
            Column(key="wheel_rate", title="Wheel rate", kind="rate"),
            Column(key="sprung_corner", title="Sprung corner", kind="mass"),
        ),
        rows=tuple(out),
    )
