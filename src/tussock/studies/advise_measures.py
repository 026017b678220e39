"""Which computed measures bear on what drivers judge, and what the simulation gives of them over the lattice.

The shares are a judgement of the house (common practice, no source); drivers' verdicts move them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tussock.errors import SolverError
from tussock.mechanics import measures as m
from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.tuning import Attribute, Emulator, Lattice
from tussock.record.scales import SCALES
from tussock.studies.log_entries import WHOLE_LOOP
from tussock.studies.point_runs import PointTable
from tussock.studies.points import Scene

BEARS: Mapping[str, Mapping[str, float]] = {
    "small_bumps": {"harshness": 0.4, "shock_medium": 0.2, "shock_sharp": 0.2, "seat": 0.2},
    "big_hits": {"seat_peak": 0.3, "stops": 0.3, "least_load": 0.2, "heave_range": 0.2},
    "body_float": {"float": 0.7, "heave_range": 0.3},
    "pitch": {"pitch_rate": 0.6, "pitch_over_heave": 0.3, "pitch_lag": 0.1},
    "head_toss": {"toss": 0.5, "toss_peak": 0.3, "roll_rate": 0.2},
    "steering_return": {"hand_turned": 0.4, "hand_rate": 0.3, "front_grip_lost": 0.3},
    "corrugation_hold": {"load": 0.4, "rear_skate": 0.2, "front_skate": 0.2, "rear_airborne": 0.2},
    "crosswind": {"drift": 0.4, "hand_turned": 0.3, "roll_rate": 0.3},
}
"""What each measure counts for an attribute; comfort and control weigh as on the road loop, overall both together."""
LOOP = "loop"
CONTROL, STOPS = "control", "stops"
_STOP_MORE = 1.1
_LEAST = 1e-9


@dataclass(frozen=True, kw_only=True)
class Respect:
    """What is judged: an attribute on a section of the loop, or on the whole of it.

    Attributes
    ----------
    section : str or None
    attribute : str
        Of `record.scales.SCALES`.
    """

    section: str | None
    attribute: str

    @property
    def title(self) -> str:
        """In words."""
        return f"{SCALES[self.attribute].title}, {self.section or WHOLE_LOOP}"  # type: ignore[index]


BASE = (Respect(section=None, attribute="comfort"), Respect(section=None, attribute="control"))
"""What the whole is made of where nobody has judged anything."""


def bearing(attribute: str, weights: m.Weights) -> dict[str, float]:
    """Return which measures bear on an attribute and what each counts."""
    if attribute == "comfort":
        return {k: w for k, w in weights.comfort.items() if w > 0.0}
    if attribute == "control":
        return {k: w for k, w in weights.control.items() if w > 0.0}
    if attribute == "overall":
        both: dict[str, float] = {}
        for part in (weights.comfort, weights.control):
            for key, weight in part.items():
                both[key] = both.get(key, 0.0) + 0.5 * weight
        return {k: w for k, w in both.items() if w > 0.0}
    return dict(BEARS[attribute])


@dataclass(frozen=True, kw_only=True)
class Simulated:
    """What the simulation gives on the lattice.

    Attributes
    ----------
    emulator : Emulator
        On a lattice that keeps the limits of travel and control too.
    respects : tuple of Respect
        In the order of the emulator's attributes.
    measures : tuple of tuple of str
        Which measures bear on each, after those were dropped that the adjusters hardly move.
    stands_in : mapping
        Respects whose own measures do not move, by place, with what was taken instead.
    limits : tuple of str
        What the simulation must say of every proposed build.
    dropped : tuple of str
        Limits that cannot be read from the simulation.
    """

    emulator: Emulator
    respects: tuple[Respect, ...]
    measures: tuple[tuple[str, ...], ...]
    stands_in: Mapping[int, str]
    limits: tuple[str, ...]
    dropped: tuple[str, ...]


def simulated(
    scene: Scene,
    lattice: Lattice,
    points: Ints,
    table: PointTable,
    respects: Sequence[Respect],
    stock: Mapping[str, float],
) -> Simulated:
    """Return the emulator of simulated points for what is judged.

    Parameters
    ----------
    scene, lattice : Scene, Lattice
    points : array (n, adjusters)
        What was simulated, the build in the middle first.
    table : PointTable
        Its figures, every measure of every section among them.
    respects : sequence of Respect
    stock : mapping
        Measures of the loop on stock.

    Raises
    ------
    SolverError
        Too many points could not be driven, or nothing follows from the adjusters.
    """
    good = np.flatnonzero(np.isfinite(table.column("comfort")))
    terms = 1 + points.shape[1] * (points.shape[1] + 3) // 2
    if 0 not in good or len(good) < max(2 * points.shape[1], 0.5 * len(points)):
        why = table.failed[min(table.failed)] if table.failed else "nothing was driven"
        raise SolverError(
            f"{len(good)} of {len(points)} simulated settings could be driven, too few for {terms} terms; the first "
            f"that could not: {why}"
        )
    columns, logs = _logs(scene, table, good)
    probe = Emulator.fit(lattice, (), points[good], logs)
    made, measures, instead = [], [], {}
    for j, respect in enumerate(respects):
        own = _alive(respect, columns, probe, scene.road.weights)
        for other in (Respect(section=respect.section, attribute="overall"), *reversed(BASE)):
            if own:
                break
            own = _alive(other, columns, probe, scene.road.weights)
            instead[j] = other.title
        if not own:
            raise SolverError(f"{respect.title}: no measure follows from the adjusters; simulate more settings")
        counts = 0.5 * (len(respects) - len(BASE)) if respect in BASE and len(respects) > len(BASE) else 1.0
        made.append(
            Attribute(
                name=respect.title, measures=tuple(columns[c] for c, _ in own), shares=tuple(w for _, w in own),
                counts=counts,
            )
        )  # fmt: skip
        measures.append(tuple(name for name, _ in own))
    emulator = Emulator.fit(lattice, made, points[good], logs)
    limits, words, dropped = _limits(emulator, columns, logs, stock)
    bounded = replace(lattice, allows=limits)
    return Simulated(
        emulator=replace(emulator, lattice=bounded),
        respects=tuple(respects),
        measures=tuple(measures),
        stands_in=instead,
        limits=words,
        dropped=dropped,
    )


def _logs(scene: Scene, table: PointTable, good: Ints) -> tuple[dict[str, int], Floats]:
    """Return where each measure of each section and of the loop stands, and logarithms of all (n, measures)."""
    names, rows = [], []
    shares = np.array([scene.road.shares[s.name] for s in scene.road.sections])
    for key in scene.reference[0].measures:
        each = [_log(table.column(f"{s.name}: {key}")[good], key) for s in scene.road.sections]
        names += [f"{s.name}: {key}" for s in scene.road.sections] + [f"{LOOP}: {key}"]
        rows += [*each, np.average(each, axis=0, weights=shares)]
    names += [CONTROL, STOPS]
    rows += [np.log(table.column("control")[good]), _log(table.column("stops")[good], "stops")]
    return {name: i for i, name in enumerate(names)}, np.array(rows).T


def _log(values: Floats, key: str) -> Floats:
    """Return logarithms of a measure, floored as in the indices; more is worse."""
    logs = np.log(np.maximum(np.abs(values) + m.FLOORS.get(key, 0.0), _LEAST))
    better = m.MEASURES[key].better if key in m.MEASURES else "lower"
    return np.asarray(-logs if better == "higher" else logs)


def _alive(
    respect: Respect, columns: Mapping[str, int], probe: Emulator, weights: m.Weights
) -> list[tuple[str, float]]:
    """Return the measures of a respect that the adjusters move, and what each counts."""
    where = respect.section or LOOP
    named = {f"{where}: {key}": w for key, w in bearing(respect.attribute, weights).items()}
    return [(name, w) for name, w in named.items() if name in columns and probe.alive[columns[name]]]


class _Within:
    """Which builds keep what the emulator gives below bounds."""

    def __init__(self, emulator: Emulator, bounds: Mapping[int, float]) -> None:
        self._emulator, self._at = emulator, list(bounds)
        self._most = np.array(list(bounds.values()))

    def __call__(self, points: Ints) -> np.ndarray:
        e = self._emulator
        logs = e.standard(e.lattice.scaled(points))[:, self._at] * e.spread[self._at] + e.centre[self._at]
        return np.asarray(np.all(logs <= self._most, axis=1))


def _limits(
    emulator: Emulator, columns: Mapping[str, int], logs: Floats, stock: Mapping[str, float]
) -> tuple[_Within | None, tuple[str, ...], tuple[str, ...]]:
    """Return the limits that follow from the simulation; the build in the middle, the first row, keeps them."""
    floor = m.FLOORS["stops"]
    wanted = {
        CONTROL: (0.0, "holds the road at least as well as stock"),
        STOPS: (
            math.log(_STOP_MORE * (stock["stops"] + floor)),
            f"hits its stops at most {_STOP_MORE - 1.0:.0%} harder than stock or the present build".replace("%", " %"),
        ),
    }
    bounds: dict[int, float] = {}
    words, dropped = [], []
    for key, (most, text) in wanted.items():
        at = columns[key]
        if not emulator.alive[at]:
            dropped.append(text)
            continue
        bounds[at] = max(most, float(logs[0, at]) + (math.log(_STOP_MORE) if key == STOPS else 0.0))
        words.append(text)
    return (_Within(emulator, bounds) if bounds else None), tuple(words), tuple(dropped)
