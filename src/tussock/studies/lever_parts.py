"""Levers that follow an axle by a link, and the part that sets each right again at the new height.

A level sensor wants its stock angle at ride height and must stay inside its range over the travel: a longer link or a
bracket under the link's end is found. A load-sensing brake valve wants the stock angle empty and laden, on springs that
sink otherwise than the stock ones: lengths of lever and link are found together.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import astuple, dataclass

import numpy as np

from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.lever_link import ACROSS, LeverLink
from tussock.record.vehicle import Sensor
from tussock.studies import model, parts
from tussock.studies.display import show
from tussock.studies.job import KERB, STOCK, Job, Setup
from tussock.studies.limiters import AxlePath
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Mark, Notice, Picture, Table

_NEARLY_STRAIGHT = 0.985  # share of lever and link in one line beyond which a link is not proposed: about 10 deg away
_LEVERS = (0.5, 1.5)  # a valve's lever is made between these shares of the stock one
_STEP = 1e-3  # links, levers and brackets are made in whole millimetres
_SAME = math.radians(0.5)  # a lever this near to its stock angle needs no part; common practice, no source


@dataclass(frozen=True, kw_only=True)
class LeverPart:
    """A lever as it stands and with the part that mends it.

    Attributes
    ----------
    name, kind, end : str
        The lever's, as in the programme.
    lifted, mended : float
        Lever angle at ride height from stock, with the kit alone and with the part [rad].
    low, high : float
        Lever angles reached over the travel, level and in roll, with the part [rad].
    limit : float or None
        Angle each way that it can follow [rad].
    words : str
        The part, or "" where none is needed.
    trouble : str
        What stays wrong, or "".
    size : float
        Leading dimension of the part [m].
    heave, stock_curve, lifted_curve, mended_curve : array (n,)
        Travel from ride height [m] and lever angles [rad].
    """

    name: str
    kind: str
    end: str
    lifted: float
    mended: float
    low: float
    high: float
    limit: float | None
    words: str
    trouble: str
    size: float
    heave: Floats
    stock_curve: Floats
    lifted_curve: Floats
    mended_curve: Floats


@dataclass(frozen=True)
class _Setting:
    """A place of the link's end on the axle, as a heave, and the lever angle wanted there."""

    heave: float
    angle: float


def levers(job: Job, setup: Setup) -> tuple[LeverPart, ...]:
    """Return every lever of the programme, what the lift did to it and the part that mends it."""
    return tuple(_mend(job, setup, sensor) for sensor in job.programme.vehicle.sensors)


def lever_of(sensor: Sensor) -> LeverLink:
    """Return a lever of the record; DomainError where it cannot turn."""
    pivot = np.array(sensor.pivot.si)
    axis = ACROSS if sensor.axis is None else tuple(float(c) for c in np.array(sensor.axis.si) - pivot)
    return LeverLink(
        pivot=pivot,
        lever=np.array(sensor.lever.si),
        link=np.array(sensor.link.si),
        axis=(axis[0], axis[1], axis[2]),
        name=sensor.name,
    )


class _Places:
    """Where the link's end on the axle goes in one setup, over the travel that the targets ask for."""

    def __init__(self, job: Job, setup: Setup, sensor: Sensor) -> None:
        roll, end = float(job.programme.targets.roll), sensor.axle
        self._point = np.array(sensor.link.si)
        self._paths = [AxlePath(model.travel_map(job, end, setup, roll=roll), c) for c in (0, 1, 2)]
        self.ride = model.posture(job, setup)[end].heave
        down, up = float(job.programme.targets.droop[end]), float(job.programme.targets.bump[end])
        self.travel = np.linspace(-down, up, 41)
        # in roll the wheel that moves furthest has used the travel; the axle's centre stays nearer to ride height
        lever = 0.5 * parts.track(job, end) * math.sin(roll)
        self._rolled = np.linspace(min(lever - down, 0.0), max(up - lever, 0.0), 21)

    def at(self, heave: Floats, *, rise: float = 0.0, column: int = 1) -> Floats:
        """Return the place (n, 3) at some heaves [m], the link's end set up by a bracket of height `rise` [m]."""
        path = self._paths[column]
        every = path.place(self._point + np.array([0.0, 0.0, rise]))
        return np.stack([np.interp(heave, path.heave, every[:, i]) for i in range(3)], axis=1)

    def everywhere(self, *, rise: float = 0.0) -> Floats:
        """Return the places over the travel, level and rolled both ways (n, 3)."""
        rolled = [self.at(self.ride + self._rolled, rise=rise, column=c) for c in (0, 2)]
        return np.concatenate([self.at(self.ride + self.travel, rise=rise), *rolled])


@dataclass(frozen=True, kw_only=True)
class _Option:
    """One way to mend: the lever with it, the bracket's rise, its size and words."""

    lever: LeverLink
    rise: float
    size: float
    words: str


def _whole(length: float) -> float:
    return round(length / _STEP) * _STEP


def _longer(lever: LeverLink, length: float) -> _Option:
    change = _whole(length) - lever.length
    word = "longer" if change > 0.0 else "shorter"
    return _Option(
        lever=lever.with_link(_whole(length)),
        rise=0.0,
        size=_whole(length),
        words=f"a link of {show(_whole(length), 'length')}, {show(abs(change), 'length')} {word}",
    )


def _bracket(lever: LeverLink, places: _Places, heave: float, angle: float) -> _Option:
    rise = 0.0
    for _ in range(4):  # the axle turns a little on its way, so its bracket is not quite vertical any more
        rise += lever.rise_for(places.at(np.array([heave]), rise=rise)[0], angle=angle)
    rise = _whole(rise)
    verb = "raises" if rise > 0.0 else "lowers"
    return _Option(
        lever=lever,
        rise=rise,
        size=rise,
        words=f"a bracket that {verb} the link's axle end by {show(abs(rise), 'length')}",
    )


def _both(lever: LeverLink, places: _Places, settings: Sequence[_Setting]) -> _Option:
    first, second = settings
    ends = places.at(np.array([first.heave, second.heave]))
    length, link = lever.lever_and_link(ends[0], ends[1], first_angle=first.angle, second_angle=second.angle)
    low, high = (share * lever.lever_length for share in _LEVERS)
    if not low <= length <= high:
        raise SolverError(
            f"{lever.name}: a lever of {show(length, 'length')} would hold both loads; between {show(low, 'length')} "
            f"and {show(high, 'length')} can be made"
        )
    return _Option(
        lever=lever.with_lever(_whole(length), link=_whole(link)),
        rise=0.0,
        size=_whole(length),
        words=f"a lever of {show(_whole(length), 'length')} (stock {show(lever.lever_length, 'length')}) "
        f"with a link of {show(_whole(link), 'length')} (stock {show(lever.length, 'length')})",
    )


def _off(option: _Option, places: _Places, settings: Sequence[_Setting]) -> float:
    """Return the largest miss of the angles wanted, with its sign [rad]."""
    ends = places.at(np.array([s.heave for s in settings]), rise=option.rise)
    misses = option.lever.angles(ends) - np.array([s.angle for s in settings])
    return float(misses[np.argmax(np.abs(misses))])


def _settings(job: Job, setup: Setup, sensor: Sensor, lever: LeverLink) -> list[_Setting]:
    """Return the angles wanted: stock at ride height, or for a valve as the stock vehicle has in two loads."""
    end = sensor.axle
    if sensor.kind == "level":
        return [_Setting(model.posture(job, setup)[end].heave, 0.0)]
    by_load = sorted(job.programme.fitouts, key=lambda f: parts.static_corner_load(job, f, end))
    wanted = list(dict.fromkeys((by_load[0], by_load[-1])))
    out: list[_Setting] = []
    for fitout in wanted:
        stock = Setup(fitout=fitout, build=STOCK)
        place = _Places(job, stock, sensor)
        angle = float(lever.angles(place.at(np.array([place.ride])))[0])
        out.append(_Setting(model.posture(job, Setup(fitout=fitout, build=setup.build))[end].heave, angle))
    return out


def _judged(option: _Option, places: _Places, limit: float | None) -> tuple[bool, float]:
    """Return whether a way keeps clear of the straight line and of the range, and the largest angle it takes [rad]."""
    ends = places.everywhere(rise=option.rise)
    if float(np.max(option.lever.reach(ends))) > _NEARLY_STRAIGHT:
        return False, math.inf
    most = float(np.max(np.abs(option.lever.angles(ends))))
    return limit is None or most <= limit, most


def _mend(job: Job, setup: Setup, sensor: Sensor) -> LeverPart:
    lever = lever_of(sensor)
    limit = None if sensor.range is None else float(sensor.range)
    places, stock = _Places(job, setup, sensor), _Places(job, Setup(fitout=KERB, build=STOCK), sensor)
    settings = _settings(job, setup, sensor, lever)
    as_it_is = _Option(lever=lever, rise=0.0, size=0.0, words="")
    tried: list[_Option] = [as_it_is]
    faults: list[str] = []
    lifted = _off_or_nan(as_it_is, places, settings)
    if not abs(lifted) <= _SAME:
        for make in _ways(lever, places, settings):
            try:
                tried.append(make())
            except SolverError as error:
                faults.append(str(error))
    ranked: list[tuple[tuple[bool, bool, float], _Option]] = []
    for option in tried:
        inside, most = _judged(option, places, limit)
        off = _off_or_nan(option, places, settings)
        if math.isfinite(off):
            missed = abs(off) > max(_SAME, math.radians(1.0))
            ranked.append(((missed, not inside, abs(off) if missed else most), option))
    ranked.sort(key=lambda r: r[0])
    chosen = ranked[0][1] if ranked else as_it_is
    inside, _ = _judged(chosen, places, limit)
    mended = _off_or_nan(chosen, places, settings)
    return LeverPart(
        name=sensor.name,
        kind=sensor.kind,
        end=sensor.axle,
        lifted=lifted,
        mended=mended,
        low=float(np.nanmin(_curve(chosen.lever, places.everywhere(rise=chosen.rise)))),
        high=float(np.nanmax(_curve(chosen.lever, places.everywhere(rise=chosen.rise)))),
        limit=limit,
        words=chosen.words,
        trouble=_trouble(mended, inside, limit, faults),
        size=chosen.size,
        heave=places.travel,
        stock_curve=_curve(lever, stock.at(stock.ride + stock.travel)),
        lifted_curve=_curve(lever, places.at(places.ride + places.travel)),
        mended_curve=_curve(chosen.lever, places.at(places.ride + places.travel, rise=chosen.rise)),
    )


def _ways(lever: LeverLink, places: _Places, settings: Sequence[_Setting]) -> list[Callable[[], _Option]]:
    if len(settings) == 2:
        # where no lever holds both loads, the middle of both, with its miss said, beats leaving it
        middle = _Setting(*(0.5 * (a + b) for a, b in zip(astuple(settings[0]), astuple(settings[1]), strict=True)))
        return [lambda: _both(lever, places, settings), *_ways(lever, places, [middle])]
    one = settings[0]
    return [
        lambda: _longer(lever, lever.link_for(places.at(np.array([one.heave]))[0], angle=one.angle)),
        lambda: _bracket(lever, places, one.heave, one.angle),
    ]


def _off_or_nan(option: _Option, places: _Places, settings: Sequence[_Setting]) -> float:
    try:
        return _off(option, places, settings)
    except SolverError:
        return math.nan  # it cannot reach: shown as such, and ranked behind everything that can


def _curve(lever: LeverLink, ends: Floats) -> Floats:
    """Return the angles over places, NaN where lever and link would lock: the picture shows where."""
    out = np.full(len(ends), np.nan)
    can = lever.reach(ends) < 1.0
    if np.any(can):
        out[can] = lever.angles(ends[can])
    return out


def _trouble(mended: float, inside: bool, limit: float | None, faults: Sequence[str]) -> str:
    if not math.isfinite(mended):
        return "the link cannot reach at this height" + (f": {faults[0]}" if faults else "")
    if abs(mended) > math.radians(1.0):
        return f"still {show(mended, 'angle', sign=True)} from its stock angle" + (f": {faults[0]}" if faults else "")
    if not inside:
        what = "comes near the straight line" if limit is None else f"leaves its range of {show(limit, 'angle')}"
        return f"it {what} over the travel"
    return ""


def lever_table(found: Sequence[LeverPart]) -> Table:
    """Return what the lift did to each lever and the part that mends it."""
    rows: list[tuple[Cell, ...]] = [
        (
            p.name,
            p.end,
            _or_none(p.lifted),
            p.words or "none needed",
            _or_none(p.mended),
            _or_none(p.low),
            _or_none(p.high),
            p.limit,
            p.trouble or "right",
        )
        for p in found
    ]
    return Table(
        key="levers",
        title="Sensor arms and brake valves",
        columns=(
            Column(key="lever", title="Lever"),
            Column(key="axle", title="Axle"),
            Column(key="off", title="Off by, lifted", kind="angle", sign=True),
            Column(key="part", title="Part"),
            Column(key="left", title="With it", kind="angle", sign=True),
            Column(key="low", title="Over the travel", kind="angle", sign=True),
            Column(key="high", title="to", kind="angle", sign=True),
            Column(key="range", title="Range", kind="angle"),
            Column(key="verdict", title="Reading"),
        ),
        rows=tuple(rows),
        strong=tuple(i for i, p in enumerate(found) if p.trouble),
        note="lever angle from stock, end up positive; a brake valve is judged empty and laden. A load-sensing valve "
        "decides which axle locks first: have its setting measured on a brake tester",
    )


def lever_notices(found: Sequence[LeverPart]) -> tuple[Notice, ...]:
    """Say which lever no part sets right."""
    return tuple(
        Notice(
            text=f"{p.name}: {p.trouble}",
            remedy="another pivot or lever; have the brakes measured on a tester"
            if p.kind == "brake_valve"
            else "another bracket or sensor, then recalibrate it",
        )
        for p in found
        if p.trouble
    )


def lever_pictures(found: Sequence[LeverPart]) -> tuple[Picture, ...]:
    """Return each lever's angle over the travel: stock, lifted and with its part."""
    out: list[Picture] = []
    for p in found:
        curves = [("stock", p.stock_curve, "stock"), ("lifted", p.lifted_curve, "build")]
        if p.words:
            curves.append(("with the part", p.mended_curve, "build"))
        marks = () if p.limit is None else tuple(Mark(text="range", y=s * p.limit, role="governs") for s in (1.0, -1.0))
        out.append(
            LineChart(
                key=f"lever_{p.name.replace(' ', '_')}",
                title=f"{p.name[:1].upper()}{p.name[1:]}: lever angle over the travel",
                x=Axis(title="wheel travel from ride height", kind="length"),
                y=Axis(title="end up from stock", kind="angle"),
                lines=tuple(_line(label, p.heave, curve, role) for label, curve, role in curves),
                marks=marks,
            )
        )
    return tuple(out)


def _line(label: str, heave: Floats, curve: Floats, role: str) -> Line:
    can = np.isfinite(curve)
    return Line(
        label=label,
        x=tuple(map(float, heave[can])),
        y=tuple(map(float, curve[can])),
        role="stock" if role == "stock" else "build",
    )


def _or_none(value: float) -> float | None:
    return value if math.isfinite(value) else None
