"""A stack of discs changed by hand: what the damper then does, beside what it did, the dyno and the targets."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

import numpy as np

from tussock.errors import DomainError, InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers import production_band
from tussock.mechanics.dampers.assembly import StackValve
from tussock.mechanics.dampers.hydraulics import QuasiStatic, solve
from tussock.record.discs import DiscLine, DiscRule
from tussock.studies import damper_builds as inside
from tussock.studies import parts
from tussock.studies.damper_inside import FASTEST, SPEEDS, change_words, flow, measured_curve, sentence, with_valves
from tussock.studies.damper_sheet import short_of
from tussock.studies.dampers import JUDGED, ratio_at
from tussock.studies.display import show
from tussock.studies.job import STOCK, Job, Setup
from tussock.studies.result import Axis, Band, Cell, Column, Drawing, Line, LineChart, Notice, Table
from tussock.studies.stack_drawing import stack_drawing

_TOLD = np.array([*(-s for s in reversed(SPEEDS)), *SPEEDS])
_GRID: Floats = np.unique(np.concatenate([np.linspace(-1.1, 1.1, 89), _TOLD, [-JUDGED, JUDGED]]))
Where: TypeAlias = Literal["piston", "foot", "reservoir"]
Sense: TypeAlias = Literal["rebound", "compression"]
_WHERE: tuple[Where, ...] = ("piston", "foot", "reservoir")
_SENSES: tuple[Sense, ...] = ("rebound", "compression")
_BAR = 0.02  # half the width with which the window of the target is drawn [m/s]


@dataclass(frozen=True, kw_only=True)
class StackPlace:
    """A stack of a setup that can be worked at.

    Attributes
    ----------
    end, damper : str
        Axle, and the damper's name.
    place, sense : str
        "piston", "foot" or "reservoir"; the direction in which it opens.
    title : str
        Place and direction in words.
    path : str
        Its field of the programme.
    discs : tuple of str
        One for each disc, from the seat, such as "0.20 x 28 mm".
    """

    end: str
    damper: str
    place: Where
    sense: Sense
    title: str
    path: str
    discs: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Tried:
    """What a stack does that somebody put together.

    Attributes
    ----------
    answer : str
        One sentence with its figures.
    change : str
        What was changed, in words; "" for the stack as saved.
    chart : LineChart
        Force over speed: as tried, as saved, measured, what production scatters, the window of the target.
    table : Table
        Forces at the speeds that are told.
    notices : tuple of Notice
        Where it cavitates, which discs are short.
    ratio : float
        Damping ratio of the body with it [-].
    """

    answer: str
    change: str
    chart: LineChart
    table: Table
    notices: tuple[Notice, ...]
    ratio: float


def places(job: Job, setup: Setup) -> tuple[StackPlace, ...]:
    """Return every stack of the dampers that a setup wears and whose valves are known."""
    out = []
    for end, name, damper in with_valves(job, setup):
        owner = f"vehicle.axles.{end}.damper" if name == STOCK else f"kit.dampers.{name}"
        for place, sense in itertools.product(_WHERE, _SENSES):
            group = getattr(damper.valves, place)
            valve = None if group is None else getattr(group, sense)
            if valve is None or valve.stack is None:
                continue
            out.append(
                StackPlace(
                    end=end,
                    damper=name,
                    place=place,
                    sense=sense,
                    title=f"{place}, {sense}",
                    path=f"{owner}.valves.{place}.{sense}.stack",
                    discs=tuple(_one(line) for line in valve.stack for _ in range(line.count or 1)),
                )
            )
    return tuple(out)


def sizes(job: Job) -> tuple[str, ...]:
    """Return every disc that the workshop lists, narrow ones first, of one diameter the thin ones first."""
    lines: dict[tuple[int, int], str] = {}
    for material in job.programme.workshop.discs.values():
        for line in material.sizes:
            lines.setdefault((line.size[1], line.size[0]), f"{line.words} mm")
    return tuple(lines[key] for key in sorted(lines))


def neighbour(every: Sequence[str], disc: str, *, thickness: int = 0, diameter: int = 0) -> str | None:
    """Return the next disc of the stock in one direction, or None where the stock ends.

    >>> stock = ("0.15 x 26 mm", "0.20 x 26 mm", "0.20 x 28 mm")
    >>> neighbour(stock, "0.15 x 26 mm", thickness=1), neighbour(stock, "0.20 x 26 mm", diameter=1)
    ('0.20 x 26 mm', '0.20 x 28 mm')
    """
    here = _read(disc)
    by, step = (0, thickness) if thickness else (1, diameter)
    lines = [_read(one) for one in every]
    found = [
        line for line in lines if line.size[1 - by] == here.size[1 - by] and (line.size[by] - here.size[by]) * step > 0
    ]
    if not found:
        return None
    return _one(min(found, key=lambda line: abs(line.size[by] - here.size[by])))


def as_field(discs: Sequence[str]) -> str:
    """Return a stack as its field is typed, equal neighbours counted.

    >>> as_field(["0.20 x 28 mm", "0.20 x 28 mm", "0.15 x 26 mm"])
    '[2 of 0.20 x 28 mm, 0.15 x 26 mm]'
    """
    runs = [(disc, len(list(same))) for disc, same in itertools.groupby(discs)]
    return f"[{', '.join(f'{n} of {disc}' if n > 1 else disc for disc, n in runs)}]"


def drawn(job: Job, setup: Setup, at: StackPlace, discs: Sequence[str]) -> Drawing:
    """Return a stack to scale, also one that cannot be built."""
    damper = _damper(job, setup, at)
    group = inside.build_of(job, damper, at.damper).valving(at.place)
    valve = None if group is None else group.valve(at.sense)
    assert isinstance(valve, StackValve)
    own = [inside.disc_of(job, _read(disc)) for disc in discs]
    return stack_drawing(
        valve, discs=own, key=f"{at.damper}_{at.place}_{at.sense}", title=f"{sentence(damper.title)}: {at.title} stack"
    )


def tried(job: Job, setup: Setup, at: StackPlace, discs: Sequence[str]) -> Tried:
    """Return what a damper does with other discs in one of its stacks.

    The whole damper is computed, all its valves and its oil at the temperature of its dyno run where that is known,
    else of the road loop.

    Parameters
    ----------
    job : Job
        The programme, with the stack as it is saved.
    setup : Setup
        Whose damping ratio is told.
    at : StackPlace
        Which stack.
    discs : sequence of str
        From the seat, one for each disc.

    Raises
    ------
    InputError
        The stack cannot be built or solved; says why.
    """
    saved = _damper(job, setup, at)
    new = _with(saved, at, discs)
    kelvin = inside.dyno_temperature(job, saved)
    was = flow(job, saved, at.damper, _GRID, temperature=kelvin)
    try:
        now = solve(inside.assembled(job, new, at.damper), velocities=_GRID, temperature=kelvin)
    except (DomainError, SolverError) as error:
        raise InputError(str(error)) from None
    changed = tuple(discs) != at.discs
    words = change_words(job, saved, at.damper, new, at.damper) if changed else ""
    ratio, window = _judged(job, setup, at, was, now)
    return Tried(
        answer=_answer(job, setup, at, was, now, ratio),
        change=words,
        chart=_chart(job, saved, at, was, now, window, changed=changed),
        table=_table(job, saved, at, was, now),
        notices=_notices(job, setup, at, now, new),
        ratio=ratio,
    )


def _judged(
    job: Job, setup: Setup, at: StackPlace, was: QuasiStatic, now: QuasiStatic
) -> tuple[float, tuple[tuple[float, float], tuple[float, float]]]:
    """Return the damping ratio, and for either direction the forces at `JUDGED` that keep it within its target [N].

    Studies take a measured curve where there is one; the change of the computed force is added to what they take.
    """
    curve = parts.fitted(job, setup, at.end).curve
    taken = curve.mean_damping(JUDGED)
    a, b = _force(was, -JUDGED), _force(was, JUDGED)
    c, d = _force(now, -JUDGED), _force(now, JUDGED)
    saved_ratio = ratio_at(job, setup, at.end, JUDGED)
    mean = taken + ((d - c) - (b - a)) / (2.0 * JUDGED)
    targets = job.programme.targets.damping_ratio
    # by how much the force of one direction may change, the other kept [N]
    least, most = (
        2.0 * JUDGED * (taken * float(limit) / saved_ratio - mean) for limit in (targets.least, targets.most)
    )
    return saved_ratio * mean / taken, ((c - most, c - least), (d + least, d + most))


def _answer(job: Job, setup: Setup, at: StackPlace, was: QuasiStatic, now: QuasiStatic, ratio: float) -> str:
    way = JUDGED if at.sense == "compression" else -JUDGED
    force, more = abs(_force(now, way)), abs(_force(now, way)) - abs(_force(was, way))
    window = job.programme.targets.damping_ratio
    changed = f" ({show(more, 'force', sign=True)})" if abs(more) >= 0.5 else ""
    fitout = job.programme.fitouts[setup.fitout].title if setup.fitout in job.programme.fitouts else "At kerb"
    return (
        f"{at.sense.capitalize()} takes {show(force, 'force')}{changed} at {show(JUDGED, 'velocity')}; "
        f"{fitout[:1].lower() + fitout[1:]}, the {at.end} body is damped at {show(ratio, 'ratio')} of critical, "
        f"{show(float(window.least), 'ratio')} to {show(float(window.most), 'ratio')} is wanted."
    )


def _chart(
    job: Job,
    damper: Any,
    at: StackPlace,
    was: QuasiStatic,
    now: QuasiStatic,
    window: tuple[tuple[float, float], tuple[float, float]],
    *,
    changed: bool,
) -> LineChart:
    lines = [
        Line(label="tried" if changed else "saved", x=_floats(_GRID), y=_floats(now.hydraulic_force), marked=False)
    ]
    if changed:
        lines.append(Line(label="saved", x=_floats(_GRID), y=_floats(was.hydraulic_force), marked=False))
    bands: list[Band] = []
    if damper.dyno is not None or damper.curve is not None:
        measured = measured_curve(job, damper)
        low, high = measured.measured_range
        reached = _TOLD[(low <= _TOLD) & (high >= _TOLD)]
        lines.append(
            Line(label="measured", x=_floats(reached), y=_floats(measured.at(reached)), role="stock", dots=True)
        )
        inside_range = _GRID[(low <= _GRID) & (high >= _GRID)]
        force = measured.at(inside_range)
        wide = np.array(
            [
                production_band(abs(float(f)), "compression" if v > 0.0 else "rebound")
                for v, f in zip(inside_range, force, strict=True)
            ]
        )
        bands.append(
            Band(
                label="production",
                x=_floats(inside_range),
                low=_floats(force - wide),
                high=_floats(force + wide),
                role="stock",
            )
        )
    for centre, (low_force, high_force), name in ((-JUDGED, window[0], ""), (JUDGED, window[1], "target")):
        x = (centre - _BAR, centre + _BAR)
        bands.append(Band(label=name, x=x, low=(low_force,) * 2, high=(high_force,) * 2, role="target"))
        lines += [Line(label="", x=x, y=(edge, edge), role="target") for edge in (low_force, high_force)]
    return LineChart(
        key=f"{at.damper}_{at.place}_{at.sense}_force",
        title=f"{sentence(damper.title)}: computed force, oil at {show(now.temperature, 'temperature')}",
        x=Axis(title="speed, compression positive", kind="velocity"),
        y=Axis(title="force", kind="force"),
        lines=tuple(lines),
        bands=tuple(bands),
    )


def _table(job: Job, damper: Any, at: StackPlace, was: QuasiStatic, now: QuasiStatic) -> Table:
    curve = measured_curve(job, damper) if damper.dyno is not None or damper.curve is not None else None
    rows: list[tuple[Cell, ...]] = []
    for direction, sign in (("rebound", -1.0), ("compression", 1.0)):
        for speed in SPEEDS:
            old, new = abs(_force(was, sign * speed)), abs(_force(now, sign * speed))
            told = None if curve is None else abs(curve.force_at(sign * speed))
            rows.append((direction, speed, new, old, new - old, new / old - 1.0, told))
    return Table(
        key=f"{at.damper}_{at.place}_{at.sense}_forces",
        title=f"{sentence(damper.title)}: forces with the stack as tried",
        columns=(
            Column(key="direction", title="Direction"),
            Column(key="speed", title="Speed", kind="velocity"),
            Column(key="tried", title="As tried", kind="force"),
            Column(key="saved", title="As saved", kind="force"),
            Column(key="change", title="Change", kind="force", sign=True),
            Column(key="share", title="of saved", kind="share", digits=0, sign=True),
            Column(key="measured", title="Measured", kind="force"),
        ),
        rows=tuple(rows),
        note=f"steady flow, oil at {show(now.temperature, 'temperature')}, gas and friction taken off; production: "
        "what QC/T 491-1999 permits about the measured force; target: the force of one direction at "
        f"{show(JUDGED, 'velocity')} that keeps the damping ratio within its window while the other direction stays",
    )


def _notices(job: Job, setup: Setup, at: StackPlace, now: QuasiStatic, new: Any) -> tuple[Notice, ...]:
    out = []
    low, high = now.cavitation_onset
    for direction, speed in (("rebound", -low), ("compression", high)):
        if speed <= FASTEST:
            out.append(
                Notice(
                    text=f"It cavitates in {direction} from {show(speed, 'velocity')} on",
                    remedy="a firmer foot valve and softer piston, or more gas pressure",
                )
            )
    dampers = [new if name == at.damper else damper for _, name, damper in with_valves(job, setup)]
    out += short_of(job, dampers, setup.build)
    if not inside.takes_valves(new):
        out.append(
            Notice(
                text="The other pages take this damper as it was measured, not from its valves",
                remedy="run it again on the dyno once it is built, or set forces_from to valves",
            )
        )
    return tuple(out)


def _damper(job: Job, setup: Setup, at: StackPlace) -> Any:
    return next(damper for end, _, damper in with_valves(job, setup) if end == at.end)


def _with(damper: Any, at: StackPlace, discs: Sequence[str]) -> Any:
    """Return a damper of the record with other discs in one stack."""
    group = getattr(damper.valves, at.place)
    valve = getattr(group, at.sense).model_copy(update={"stack": tuple(_read(disc) for disc in discs)})
    valves = damper.valves.model_copy(update={at.place: group.model_copy(update={at.sense: valve})})
    return damper.model_copy(update={"valves": valves})


def _read(disc: str) -> DiscLine:
    return DiscRule().read(disc)


def _one(line: DiscLine) -> str:
    return f"{line.words} mm" + (f" in {line.material}" if line.material else "")


def _force(got: QuasiStatic, velocity: float) -> float:
    return float(np.interp(velocity, got.velocity, got.hydraulic_force))


def _floats(values: Floats) -> tuple[float, ...]:
    return tuple(map(float, values))
