"""Where a vehicle comes to rest, on level ground or uneven: Newton on the accelerations of the motion's equations."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion.vehicle import Packed, Vehicle, pack, repack

_FREE = (3, 4, 5, 6, 7, 8, 9)  # z, pitch, roll, heave and roll of both axles
_ROWS = (4, 1, 0, 5, 6, 7, 8)  # their accelerations
_STEER, _STEER_ROW = 10, 9  # the steer about the king pins, where it is free
_TWIST, _TWIST_ROW = 12, 11  # the twist of the frame, where it twists
# an axle moves at most 40 mm and 3 deg at once: tables and contacts are far from linear beyond
_LIMIT = (0.04, 0.05, 0.05, 0.04, 0.05, 0.04, 0.05)
_STEPS = 60
_FALLS = 0.01  # square of the growth at which a rest counts as none [1/s^2]
_SOFT, _LOSES = "springs and bars hold too little against the height of the load", "a spring or stop loses force there"
_WAYS = {
    3: f"up or down: {_LOSES}",
    4: f"in pitch: {_SOFT}",
    5: f"sideways: {_SOFT}",
    6: f"at the front axle: {_LOSES}",
    7: f"sideways over the front axle: {_SOFT}",
    8: f"at the rear axle: {_LOSES}",
    9: f"sideways over the rear axle: {_SOFT}",
    10: "at the steered wheels: their loads on leaning king pins overcome the steering's stiffness",
    12: f"twisting its frame: {_SOFT}",
}
_STILL = 1e-8  # largest acceleration at rest [m/s^2, rad/s^2]


@dataclass(frozen=True, kw_only=True)
class Rest:
    """A vehicle at rest.

    Attributes
    ----------
    q : array (13,)
        Position of the kernels.
    local : array (22,)
        Their local states, dampers and mounts in balance.
    heave, roll : array (2,)
        Of front and rear axle relative to the body [m], [rad].
    wheel_load, spring_length, stop_force : array (4,)
        [N], [m], [N], front left to rear right.
    body_height : array (4,)
        Rise of the body over the ground above each wheel's stock place, against the stock pose with undeflected
        tyres' axles at their stock height [m].
    pitch, body_roll : float
        [rad].
    """

    q: Floats
    local: Floats
    heave: Floats
    roll: Floats
    wheel_load: Floats
    spring_length: Floats
    stop_force: Floats
    body_height: Floats
    pitch: float
    body_roll: float


class Evaluator:
    """Calls the kernel's right-hand side with its scratch arrays."""

    def __init__(self, packed: Packed, *, lag: float) -> None:
        self.packed = packed
        self.lag = lag
        self.log = np.zeros(k.LOG)
        self.acc = np.zeros(k.SPEEDS)
        self.local_rate = np.zeros(k.LOCAL)
        self._scratch = (
            np.zeros(4 * k.CHANNELS),
            np.zeros((6, 6)),
            np.zeros((2, 6)),
            np.zeros((2, k.ROWS)),
            np.zeros(k.FACTORS),
            np.zeros(k.WORK_SIZE),
        )

    @property
    def solved(self) -> Floats:
        """Body accelerations (2, 6) of the last call: roll, pitch, yaw, x, y, z in body axes; of a unit of traction."""
        return self._scratch[2]

    def __call__(self, q: Floats, u: Floats, local: Floats, inputs: Floats) -> Floats:
        """Return the accelerations (12,); log and local rates stay in `log` and `local_rate`."""
        sizes = (q.size, u.size, local.size, inputs.size)
        if sizes != (k.POSITIONS, k.SPEEDS, k.LOCAL, k.INPUTS):
            raise DomainError(
                f"positions, speeds, local states and inputs count {sizes}, not "
                f"{(k.POSITIONS, k.SPEEDS, k.LOCAL, k.INPUTS)}"
            )
        k.rates(
            q,
            u,
            local,
            inputs,
            self.lag,
            *self.packed.arguments,
            self.acc,
            self.local_rate,
            self.log,
            *self._scratch,
        )
        return self.acc.copy()


def damper_travel(packed: Packed, q: Floats) -> Floats:
    """Return the local states at which dampers and mounts are in balance while nothing moves."""
    local = np.zeros(k.LOCAL)
    for a in (0, 1):
        out = packed.axle_at(a, float(q[6 + 2 * a]), float(q[7 + 2 * a]))
        for side in (0, 1):
            n = 2 * a + side
            pressed = packed.wheel_value(k.W_LD, n) - float(out[0, int(k.T_DAMPER) + side])
            local[n] = k.rod_travel(packed.wheel, k.U(n), pressed)
    return local


def settle(
    vehicle: Vehicle,
    *,
    start: Floats | None = None,
    road: Floats | None = None,
) -> Rest:
    """Return where the vehicle stands still, on level ground unless its wheels are given heights.

    Parameters
    ----------
    vehicle : Vehicle
        What to set down.
    start : array (13,), optional
        Position to start from; the stock pose unless given.
    road : array (4,), optional
        Height of the ground under each wheel, front left to rear right [m]; it pushes upwards, whatever its slope.

    Raises
    ------
    SolverError
        If no rest is found, with the acceleration that is left, or one that the vehicle falls away from.
    """
    return Still(vehicle).rest(start=start, road=road)


class Still:
    """A vehicle that stands, packed once for any ground under its wheels."""

    def __init__(self, vehicle: Vehicle, packed: Packed | None = None) -> None:
        self._vehicle = vehicle
        self._packed = packed or pack(vehicle, lag=0.0, camber=False, friction=False)
        free, rows, limit = list(_FREE), list(_ROWS), list(_LIMIT)
        if vehicle.steering is not None:
            free, rows, limit = [*free, _STEER], [*rows, _STEER_ROW], [*limit, 0.05]
        if vehicle.frame is not None:
            free, rows, limit = [*free, _TWIST], [*rows, _TWIST_ROW], [*limit, 0.02]
        self._free, self._rows, self._limit = np.array(free), np.array(rows), np.array(limit)

    def other(self, vehicle: Vehicle) -> Still:
        """Return a vehicle that differs from this one in its body and its springs' rates and lengths only."""
        return Still(vehicle, repack(self._packed, vehicle))

    def rest(self, *, start: Floats | None = None, road: Floats | None = None) -> Rest:
        """Return where it stands; as `settle`."""
        q = np.zeros(k.POSITIONS)
        q[3] = self._vehicle.body.centre[2]
        if start is not None:
            q[:] = start
        inputs = np.zeros(k.INPUTS)
        if road is not None:
            inputs[:4] = road
        local, log, slopes = np.zeros(k.LOCAL), np.zeros(k.LOG), np.zeros((self._free.size, self._free.size))
        size = k.come_to_rest(
            q,
            self._free,
            self._rows,
            self._limit,
            _STILL,
            _STEPS,
            inputs,
            *self._packed.arguments,
            local,
            np.zeros(k.LOCAL),
            log,
            slopes,
        )
        if size < 0.0:
            raise SolverError("the vehicle has no rest: a spring or tyre carries nothing there (singular stiffness)")
        if not math.isfinite(size):
            raise SolverError(
                "the vehicle has no rest: its springs, masses or maps hold something that is not a number"
            )
        if not size < 1e-6:
            raise SolverError(
                f"the vehicle does not come to rest: {size:.3g} m/s^2 are left after {_STEPS} steps at heights "
                f"front {q[6] * 1e3:.0f} mm, rear {q[8] * 1e3:.0f} mm"
            )
        if road is None:  # on a ramp a vehicle is followed to where it tips
            _stands(slopes, self._free)
        if log[37] > 1e-9:
            raise SolverError(
                f"the vehicle rests outside its axle maps (front heave {q[6] * 1e3:.0f} mm, rear {q[8] * 1e3:.0f} mm): "
                "springs are too soft or too stiff for the load"
            )
        return Rest(
            q=q,
            local=local,
            heave=q[[6, 8]],
            roll=q[[7, 9]],
            wheel_load=log[0:4].copy(),
            spring_length=log[16:20].copy(),
            stop_force=log[12:16].copy(),
            body_height=_body_height(self._vehicle, q),
            pitch=float(q[4]),
            body_roll=float(q[5]),
        )


def _stands(slopes: Floats, free: Ints) -> None:
    """Refuse a rest from which the vehicle falls away: no spring brings it back."""
    growth, shapes = np.linalg.eig(slopes)
    worst = int(np.argmax(growth.real))
    if not growth[worst].real > _FALLS:
        return
    # angles weigh by half a track or half a wheelbase: about a metre
    way = _WAYS[int(free[int(np.argmax(np.abs(shapes[:, worst])))])]
    doubles = math.log(2.0) / math.sqrt(float(growth[worst].real))
    raise SolverError(f"the vehicle does not stand still: it falls away {way}, twice as far every {doubles:.2g} s")


def _body_height(vehicle: Vehicle, q: Floats) -> Floats:
    """Return by how much the body stands higher over each wheel's stock place than in the stock pose [m]."""
    out = np.zeros(4)
    centre = np.asarray(vehicle.body.centre)
    turns = (0.0, 0.0) if vehicle.frame is None else vehicle.frame.turns
    for a, parts in enumerate(vehicle.axles):
        theta, phi = float(q[4]), float(q[5] + turns[a] * q[_TWIST])
        down = np.array([-np.sin(theta), np.cos(theta) * np.sin(phi), np.cos(theta) * np.cos(phi)])
        for side in (0, 1):
            place = np.array([parts.axle.design_x, (0.5 - side) * parts.axle.track, parts.axle.centre_z0])
            out[2 * a + side] = q[3] + down @ (place - centre) - place[2]
    return out
