"""Other ways in which the same parts go together: a shackle folded back, an upright turned over.

The march from the stock pose keeps to one assembly. Here the solver starts from poses in which one part alone is
turned, and from poses turned and shifted at random; every stable equilibrium that differs from the marched one is
reported, with the body that stands otherwise. Near a lock two assemblies meet: there the mechanism may snap over.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.axle import Axle
from tussock.mechanics.linkage.diagnosis import STRAIN_ACCEPTED
from tussock.mechanics.linkage.model import Rod
from tussock.mechanics.linkage.solution import Solution
from tussock.mechanics.linkage.solver import DISTANCE_ACCEPTED, run
from tussock.mechanics.linkage.stations import Suspension

#: Turns that every part is tried at alone [rad].
TURNS = (-2.5, -2.0, -1.5, -1.0, 1.0, 1.5, 2.0, 2.5)
#: Attitudes closer than this are one assembly [rad].
SAME = 0.02


@dataclass(frozen=True, kw_only=True)
class Assembly:
    """A second way in which the parts go together.

    Attributes
    ----------
    first, second : float
        Inputs: heave [m] and roll [rad] of an axle, travel [m] and steering input of a wheel.
    body : str
        Body whose attitude differs most from the marched pose.
    turn : float
        By how much [rad].
    energy : float
        Elastic energy above that of the marched pose [J]; below zero, the parts would rather stand so.
    solution : Solution
        The pose, one row.
    """

    first: float
    second: float
    body: str
    turn: float
    energy: float
    solution: Solution


def other_assemblies(
    suspension: Suspension,
    first: float = 0.0,
    second: float = 0.0,
    *,
    tries: int = 60,
    turn: float = 1.2,
    shift: float = 0.10,
    seed: int = 1,
) -> tuple[Assembly, ...]:
    """Find assemblies beside the marched one at one place of the travel, by starts far from it.

    Parameters
    ----------
    suspension : Axle or Wheel
    first, second : float
        Inputs.
    tries : int
        Number of starts at random, beside those with one part turned; more find rarer assemblies, none proves that
        there is no other.
    turn, shift : float
        Size of the random turns [rad] and shifts [m] of the bodies.
    seed : int
        Of the random starts.

    Returns
    -------
    tuple of Assembly
        One for each, the least turned first; bushes torn by more than 20 mm do not count.

    Raises
    ------
    SolverError
        The marched pose itself cannot be reached.
    """
    if isinstance(suspension, Axle):
        base = suspension.solve(np.array([first]), np.array([second]))
    else:
        base = suspension.solve(np.array([first]), np.array([second]) if suspension.steering != "fixed" else None)
    linkage, rng = suspension.linkage, np.random.default_rng(seed)
    tables, alone = linkage.tables, np.full(1, -1, dtype=np.int64)
    size = np.where(tables.scale == 1.0, shift, turn)
    found: list[Assembly] = []
    poses = [base]

    def starts() -> Iterator[Floats]:
        for k, body in enumerate(linkage.bodies):
            place = int(tables.bi[k, 2])
            for c in range(place, place + 1) if body.kind == "hinge" else range(place + 3, place + 6):
                if body.kind in ("hinge", "free") and c in tables.free:
                    for angle in TURNS:
                        q = base.coordinates[0].copy()
                        q[c] += angle
                        yield q
        for _ in range(tries):
            q = base.coordinates[0].copy()
            q[tables.free] += rng.uniform(-1.0, 1.0, tables.free.size) * size[tables.free]
            yield q

    for start in starts():
        answer = run(
            linkage, base.inputs, alone, alone, start=start, start_rotation=base.rotation[0], iterations=100
        )  # fmt: skip
        if answer.status[0] != 0 or not answer.distance[0] < DISTANCE_ACCEPTED or _torn(answer):
            continue
        if min(_apart(answer, pose).max() for pose in poses) < SAME:
            continue
        poses.append(answer)
        turns = _apart(answer, base)
        body = int(np.argmax(turns))
        found.append(
            Assembly(
                first=first, second=second, body=linkage.bodies[body].name, turn=float(turns[body]),
                energy=float(answer.energy[0] - base.energy[0]), solution=answer,
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda a: a.turn))


def assemblies_over_travel(
    suspension: Suspension, firsts: Sequence[float], *, second: float = 0.0, tries: int = 30, seed: int = 1
) -> tuple[str, ...]:
    """Plain sentences on where in the travel the parts go together in a second way, or lock; empty if nowhere.

    Parameters
    ----------
    suspension : Axle or Wheel
    firsts : sequence of float
        Heaves or travels [m].
    second : float
        Roll [rad] or steering input.
    tries, seed : int
        As in `other_assemblies`, at each place.
    """
    told: list[str] = []
    by_body: dict[str, list[Assembly]] = {}
    for first in firsts:
        try:
            others = other_assemblies(suspension, first, second, tries=tries, seed=seed)
        except SolverError as error:
            told.append(str(error))
            continue
        for other in others:
            by_body.setdefault(other.body, []).append(other)
    for body, same in by_body.items():
        places = [1e3 * a.first for a in same]
        nearest = min(same, key=lambda a: a.turn)
        told.append(
            f"{suspension.name}: the parts go together in a second way between {min(places):.0f} and "
            f"{max(places):.0f} mm, with {body} turned by {np.rad2deg(nearest.turn):.0f} deg or more"
        )
    return tuple(told)


def _apart(a: Solution, b: Solution) -> Floats:
    """Angle between the attitudes of every body in two poses [rad]."""
    trace = np.einsum("bij,bij->b", a.rotation[0], b.rotation[0])
    return np.asarray(np.arccos(np.clip(0.5 * (trace - 1.0), -1.0, 1.0)))


def _torn(s: Solution) -> bool:
    """Tell whether a bush or soft link would have to give more than any can."""
    for element in s.linkage.elements:
        if element.spring:
            continue
        rows = np.abs(s.joint_rows(element.name)[0, :3])
        held = (True, False, False) if isinstance(element, Rod) else tuple(row is not None for row in element.rows[:3])
        if (rows * held).max() > STRAIN_ACCEPTED:
            return True
    return False
