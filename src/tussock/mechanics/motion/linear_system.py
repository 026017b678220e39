"""Differences of the compiled right-hand side about straight running or a bend: the matrices of the linear twin."""

from __future__ import annotations

import numpy as np

from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion.linear_friction import MotionSize, equivalent, slip_slopes
from tussock.mechanics.motion.rest import Evaluator, Rest
from tussock.mechanics.motion.steady_bend import SteadyBend
from tussock.mechanics.motion.steering import FRICTION_TURN
from tussock.mechanics.motion.vehicle import Vehicle, pack

WHEELS = ("front left", "front right", "rear left", "rear right")
#: States of the kernel from the fourth on: where a vehicle is and which way it heads changes nothing.
_POSITIONS = (
    *("height", "pitch", "roll", "front heave", "front roll", "rear heave", "rear roll"),
    *("steer", "hand wheel", "twist"),
)
_RATES = (
    *("roll rate", "pitch rate", "yaw rate", "lateral speed", "vertical speed"),
    *("front heave rate", "front roll rate", "rear heave rate", "rear roll rate"),
    *("steer rate", "hand wheel rate", "twist rate"),
)
_LOCAL = (
    *(
        f"{what} {w}"
        for what in ("rod travel", "tyre side deflection", "spring slip", "bush side force")
        for w in WHEELS
    ),
    "tyre room",
    "steering slip",
    *(f"bush slip {w}" for w in WHEELS),
)
STATES = (*_POSITIONS, *_RATES, *_LOCAL)
INPUT_COLUMNS: dict[str, int] = {
    **{f"road height {w}": k.IN_ROAD + i for i, w in enumerate(WHEELS)},
    **{f"road rate {w}": k.IN_RATE + i for i, w in enumerate(WHEELS)},
    **{f"road slope {w}": k.IN_SLOPE + i for i, w in enumerate(WHEELS)},
    "steer": k.IN_STEER,
    "steer rate": k.IN_STEER_RATE,
    "side force": k.IN_SIDE_FORCE,
    "roll moment": k.IN_ROLL_MOMENT,
    "yaw moment": k.IN_YAW_MOMENT,
}
INPUTS = tuple(INPUT_COLUMNS)
OUTPUTS = (
    *(f"{what} {w}" for what in ("wheel load", "damper velocity", "damper force") for w in WHEELS),
    *(f"{what} {w}" for what in ("spring length", "side force") for w in WHEELS),
    *(f"centre acceleration {axis}" for axis in ("forward", "lateral", "vertical")),
)
_OUTPUT_LOG = [*range(12), *range(16, 24), 25, 26, 27]
_MOVE = 1e-5  # step of the differences for positions [m, rad]
_RATE = 1e-4  # for speeds [m/s, rad/s]
_PUSH = 10.0  # for forces and moments [N, N m]
_NEUTRAL = ("spring slip", "steering slip", "bush slip")  # they stay where they are while nothing moves


class System:
    """The right-hand side as a function of the twin's states and inputs.

    Of the kernel's states those are kept that move and that something depends on: a rod in rigid mounts or a friction
    that is not there leaves of itself.

    Attributes
    ----------
    names : tuple of str
        States that are kept.
    x : array (n,)
        Straight running.
    running : tuple of arrays
        The same as the kernels' positions, speeds and local states.
    steer : float
        That is held [rad].
    a, b, c, d : array
        Slopes there.
    """

    def __init__(
        self,
        vehicle: Vehicle,
        speed: float,
        size: MotionSize | None,
        rest: Rest,
        *,
        hands_off: bool = False,
        bend: SteadyBend | None = None,
    ) -> None:
        self._evaluate = Evaluator(pack(equivalent(vehicle, size), lag=0.0, friction=size is not None), lag=0.0)
        self._speed, self._hands_off = speed, float(hands_off)
        self._kin = np.zeros(k.POSITIONS)
        self._held = np.zeros(len(INPUTS))
        n, m = len(_POSITIONS), len(_RATES)
        full = np.concatenate([rest.q[3:], np.zeros(m), rest.local])
        if bend is not None:
            full = np.concatenate([bend.running[0][3:], *bend.running[1:]])
            self._held[INPUTS.index("steer")] = bend.steer
        self._steps = np.full(full.size, _MOVE)
        self._steps[n : n + m] = _RATE
        self._steps[[i for i, name in enumerate(STATES) if name.startswith(("side force", "traction"))]] = _PUSH
        kept = self._free(full)
        if speed > 0.0 and bend is None:
            full = self._trim(full, kept)
        a, c = self._state_slopes(full)
        b, d = self._input_slopes(full)
        if size is not None:
            self._let_slip(a, b, vehicle, size)
        self.names = tuple(STATES[i] for i in kept)
        self.x = full[kept]
        self.steer = float(self._held[INPUTS.index("steer")])
        self.running = (np.concatenate([np.zeros(3), full[:n]]), full[n : n + m].copy(), full[n + m :].copy())
        self.a, self.b, self.c, self.d = a[np.ix_(kept, kept)], b[kept], c[:, kept], d

    def _let_slip(self, a: Floats, b: Floats, vehicle: Vehicle, size: MotionSize) -> None:
        """Let frictions slide: stuck, a slip goes as what rubs; sliding, it is left behind."""
        rubs: list[tuple[str, float, float, float]] = []
        for i, w in enumerate(WHEELS):
            end = i // 2
            if vehicle.axles[end].spring_friction > 0.0:
                travel = vehicle.axles[end].friction_travel
                rubs.append((f"spring slip {w}", size.spring_speed[end], size.slip_product[end], travel))
            if vehicle.axles[end].bush_friction > 0.0:
                travel = vehicle.axles[end].bush_travel
                rubs.append((f"bush slip {w}", size.wheel_speed[end], size.bush_product[end], travel))
        if vehicle.steering is not None and vehicle.steering.friction > 0.0:
            rubs.append(("steering slip", size.steer_speed, size.steer_product, FRICTION_TURN))
        for name, speed, product, travel in rubs:
            at = STATES.index(name)
            share, pace = slip_slopes(speed=speed, product=product, travel=travel)
            a[at], b[at] = share * a[at], share * b[at]
            a[at, at] -= pace

    def _at(self, x: Floats, u: Floats) -> tuple[Floats, Floats]:
        """Return rates of all states, and outputs."""
        n, m = len(_POSITIONS), len(_RATES)
        q, rates = np.concatenate([np.zeros(3), x[:n]]), x[n : n + m].copy()
        inputs = np.zeros(k.INPUTS)
        inputs[list(INPUT_COLUMNS.values())] = u
        inputs[k.IN_SPEED], inputs[k.IN_HANDS_OFF] = self._speed, self._hands_off
        acceleration = self._evaluate(q, rates, x[n + m :].copy(), inputs)
        k.kinematics(q, rates, self._speed, self._kin)
        out = np.concatenate([self._kin[3:], acceleration, self._evaluate.local_rate])
        return out, self._evaluate.log[_OUTPUT_LOG].copy()

    def _free(self, x: Floats) -> list[int]:
        """Return the states that move and that something else or an output depends on."""
        a, c = self._state_slopes(x)
        b, _ = self._input_slopes(x)
        kept = list(range(x.size))
        while True:
            own = a[np.ix_(kept, kept)]
            np.fill_diagonal(own, 0.0)
            moves = np.abs(own).max(axis=1) + np.abs(b[kept]).max(axis=1)
            matters = np.abs(own).max(axis=0) + np.abs(c[:, kept]).max(axis=0)
            left = [i for i, one, other in zip(kept, moves, matters, strict=True) if one > 0.0 and other > 0.0]
            if left == kept:
                return kept
            kept = left

    def _trim(self, x: Floats, kept: list[int]) -> Floats:
        """Return straight running at speed, the hand wheel held so that the vehicle does not yaw.

        Hands off it is left to yaw as it does by itself.
        """
        straight = not self._hands_off
        rows = [i for i in kept if not STATES[i].startswith(_NEUTRAL)]
        free = [i for i in rows if not (straight and STATES[i] == "yaw rate")]
        steer = INPUTS.index("steer")
        x = x.copy()
        for _ in range(12):
            f = self._at(x, self._held)[0][rows]
            if float(np.abs(f).max()) < 1e-9:
                break
            slopes = self._state_slopes(x)[0][np.ix_(rows, free)]
            if straight:
                slopes = np.column_stack([slopes, self._input_slopes(x)[0][rows, steer]])
            move = -np.linalg.solve(slopes, f)
            x[free] += move[: len(free)]
            if straight:
                self._held[steer] += move[-1]
        left = float(np.abs(self._at(x, self._held)[0][rows]).max())
        if not left < 1e-6:
            raise SolverError(
                f"no steady running at {self._speed:g} m/s: {left:.3g} m/s^2 are left of the accelerations"
            )
        return x

    def _state_slopes(self, x: Floats) -> tuple[Floats, Floats]:
        columns = []
        for i, step in enumerate(self._steps):
            ahead, behind = x.copy(), x.copy()
            ahead[i] += step
            behind[i] -= step
            (f1, y1), (f0, y0) = self._at(ahead, self._held), self._at(behind, self._held)
            columns.append(np.concatenate([f1 - f0, y1 - y0]) / (2.0 * step))
        both = np.stack(columns, axis=1)
        return both[: x.size].copy(), both[x.size :].copy()

    def _input_slopes(self, x: Floats) -> tuple[Floats, Floats]:
        columns = []
        for i, name in enumerate(INPUTS):
            step = _PUSH if name.endswith(("force", "moment")) else _MOVE
            ahead, behind = self._held.copy(), self._held.copy()
            ahead[i] += step
            behind[i] -= step
            f1, y1 = self._at(x, ahead)
            f0, y0 = self._at(x, behind)
            columns.append(np.concatenate([f1 - f0, y1 - y0]) / (2.0 * step))
        both = np.stack(columns, axis=1)
        return both[: x.size].copy(), both[x.size :].copy()
