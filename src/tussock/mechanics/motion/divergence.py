"""Why a run diverged: which force grew, where and when, read from the last steps before the motion broke."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion.driver import NO_DRIVER
from tussock.mechanics.motion.rest import Evaluator
from tussock.mechanics.motion.vehicle import Packed

TIPPED = 1.0  # pitch or roll beyond which the vehicle lies on its side [rad]; the kernels' angles hold no further
_TAIL = 200  # last steps that are looked at, beside the first
_WILD = 20.0  # weights of the vehicle that one force may reach before a run counts as broken
_LEFT = 0.5  # cells outside its map at which an axle has left it
_SUDDEN = 50  # steps; an axle thrown out of its map by what broke leaves it later than so many before the end
_STRETCH = 20_000  # steps marched at once to find them
_WHEELS = ("front left", "front right", "rear left", "rear right")
_LOGGED = (
    ("wheel load", 0),
    ("damper force", 8),
    ("bump stop force", 12),
    ("side force", 20),
    ("spring friction", 52),
)
_STATES = (
    *("X", "Y", "yaw", "height", "pitch", "roll", "front heave", "front roll", "rear heave", "rear roll"),
    *("steer", "hand wheel", "frame twist"),
)
_WEIGHT = np.array([0.0, 0.1, *[1.0] * 11])  # of a state in judging what grew: a path may be long


def diverged(packed: Packed, start: tuple[Floats, Floats, Floats], inputs: Floats, *, step: float, done: int) -> str:
    """Say when and where a run diverged and which force grew.

    Parameters
    ----------
    packed : Packed
        The vehicle.
    start : tuple of array
        Position, velocity and local states at the start of the run.
    inputs : array (n, k.INPUTS)
        What it was driven by, a driver's steer included.
    step : float
        Time step [s].
    done : int
        Steps done before the motion broke.

    Returns
    -------
    str
        One sentence for an error.
    """
    states, logs, left = _broken(packed, start, inputs[: done + 1], step)
    whole = np.isfinite(logs).all(axis=1) & np.isfinite(states).all(axis=1)
    states, logs = states[whole], logs[whole]
    where = f"the run diverged at {done * step:.3f} s, {step * inputs[:done, k.IN_SPEED].sum():.1f} m down the road"
    if not len(logs):
        return f"{where}: nothing there is a number, from the first step on; the vehicle or its start is wrong"
    name, was, now = _grown(packed, states, logs)
    here = states[-1, : k.POSITIONS]
    state = int(np.argmax(np.abs(here - start[0]) * _WEIGHT))
    said = (
        f"{where}: the {name} grew from {_newtons(was)} to {_newtons(now)} and {_STATES[state]} reached "
        f"{here[state]:.3g} {'m' if state in (0, 1, 3, 6, 8) else 'rad'}"
    )
    if left is not None and left[0] < done - _SUDDEN:
        return (
            f"{said}, after the {left[1]} axle had left the travel that its map covers at {left[0] * step:.3f} s; "
            "either springs, bump stops and dampers do not hold it on this road at this speed, or the part named is "
            f"far too stiff for steps of {1e3 * step:g} ms"
        )
    return f"{said}; this part is too stiff or too firm for the mass behind it at steps of {1e3 * step:g} ms"


@dataclass(frozen=True, kw_only=True)
class Tipped:
    """Where a vehicle first leant further than its equations hold.

    Attributes
    ----------
    kept : int
        Number of the sample, from 1 on.
    pitch, roll : float
        There [rad].
    sound : bool
        Whether the forces before it were those of a vehicle; else the run had broken.
    """

    kept: int
    pitch: float
    roll: float
    sound: bool

    def words(self, inputs: Floats, *, step: float, every: int) -> str:
        """Say it, with time and place, from the inputs (n, k.INPUTS) of a run of which each `every`-th step is kept."""
        done = self.kept * every
        return (
            f"the vehicle tipped over at {done * step:.2f} s, {step * inputs[:done, k.IN_SPEED].sum():.1f} m down the "
            f"road (pitch {math.degrees(self.pitch):.0f} deg, roll {math.degrees(self.roll):.0f} deg): drive it "
            "slower, or steer and push it less"
        )


def tipped(position: Floats, logs: Floats) -> Tipped | None:
    """Return where the vehicle tipped over in the samples of a run, (n, k.POSITIONS) and (n, k.LOG); None if not."""
    over = np.abs(position[:, 4:6]) > TIPPED
    if not over.any():
        return None
    first = int(np.argmax(over.any(axis=1)))
    forces = np.abs(logs[: first + 1, [*range(4), *range(8, 16), *range(20, 24)]])
    weight = float(logs[0, :4].sum())
    pitch, roll = position[first, 4:6]
    return Tipped(
        kept=first + 1, pitch=float(pitch), roll=float(roll), sound=bool(forces.max() < _WILD * max(weight, 1e3))
    )


def _broken(
    packed: Packed, start: tuple[Floats, Floats, Floats], inputs: Floats, step: float
) -> tuple[Floats, Floats, tuple[int, str] | None]:
    """March once more and return the states and logs of the first step and of the last ones before the motion broke.

    The third part is the step at which an axle left its map, and which one it was; None if neither did.

    In stretches, so that a long run needs no more memory than a short one; each starts where the one before ended.
    """
    q, u, local = (part.copy() for part in start)
    states, logs = np.zeros((0, k.POSITIONS + k.SPEEDS)), np.zeros((0, k.LOG))
    left: tuple[int, str] | None = None
    for at in range(0, len(inputs), _STRETCH):
        part = inputs[at : at + _STRETCH]
        these, those = np.zeros((states.shape[1], len(part))), np.zeros((k.LOG, len(part)))
        done = k.run(q, u, local, part, step, 1, *packed.arguments, these, those, np.zeros(7), *NO_DRIVER)
        kept = range(max(done - _TAIL, 0), done)
        if at == 0:
            states, logs = these.T[:1], those.T[:1]
        outside = np.flatnonzero(those[37, :done] > _LEFT)
        if left is None and outside.size:
            left = at + int(outside[0]), _farther_out(packed, these[:, outside[0]])
        states, logs = (np.vstack([old[:1], new[kept]]) for old, new in ((states, these.T), (logs, those.T)))
        if done < len(part):
            evaluate = Evaluator(packed, lag=0.5 * step)  # the step that broke leaves its state but no log
            evaluate(q, u, local, part[done])
            states = np.vstack([states, np.concatenate([q, u])])
            logs = np.vstack([logs, evaluate.log])
            break
    return states, logs, left


def _farther_out(packed: Packed, state: Floats) -> str:
    """Return which axle is farther outside its map."""
    cells = []
    for a in (0, 1):
        low, per, count = packed.grid[6 * a : 6 * a + 3]
        lean = float(packed.axle[a, 5]) * abs(math.sin(state[7 + 2 * a]))
        heave = state[6 + 2 * a]
        place, reach = (heave - low) * per, packed.axle[a, 10:12]
        cells.append(max(-place, place - count, (reach[0] - heave + lean) * per, (heave + lean - reach[1]) * per))
    return ("front", "rear")[int(np.argmax(cells))]


def _grown(packed: Packed, states: Floats, logs: Floats) -> tuple[str, float, float]:
    """Return the force that grew most since the first step, what it was then, and its largest in the last ones [N]."""
    series: dict[str, Floats] = {}
    for name, column in _LOGGED:
        for n, wheel in enumerate(_WHEELS):
            series[f"{wheel} {name}"] = logs[:, column + n]
    for n, wheel in enumerate(_WHEELS):
        rate, free = packed.wheel_value(k.W_K, n), packed.wheel_value(k.W_L0, n)
        series[f"{wheel} spring force"] = np.array([k.seated_spring(rate, free - x) for x in logs[:, 16 + n]])
    if packed.frame is not None:
        series["force of the twisted frame at the front wheels"] = (
            packed.frame[0] * states[:, 12] / float(packed.axle[0, 5])
        )
    for a, end in enumerate(("front", "rear")):
        tables = [packed.axle_at(a, float(row[6 + 2 * a]), float(row[7 + 2 * a])) for row in states]
        slopes = np.array([table[1:3, int(k.T_ENERGY)] for table in tables])
        series[f"force of leaf springs, bushes and bar at the {end} wheels"] = np.hypot(
            slopes[:, 0], slopes[:, 1] / float(packed.axle[a, 5])
        )
    found = []
    for name, values in series.items():
        size = np.abs(values)
        found.append((float(size.max() - size[0]), name, float(size[0])))
    grown, name, was = max(found)
    return name, was, was + grown


def _newtons(force: float) -> str:
    return f"{force:.3g} N" if force >= 1e5 else f"{force:.0f} N"
