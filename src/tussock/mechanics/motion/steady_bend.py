"""The vehicle in a steady bend: Newton on the motion's own equations, and what each cause adds to understeer."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import RectBivariateSpline

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion.rest import Evaluator, Rest, damper_travel, settle
from tussock.mechanics.motion.steering import RIGID
from tussock.mechanics.motion.vehicle import AxleParts, Vehicle, pack
from tussock.mechanics.tyre import PEAK_LOAD

_STEP = 0.5  # lateral acceleration is raised in such steps [m/s^2]
_HALF = 0.25  # gradients are differences over twice this [m/s^2]
_TRIES = 40
_STILL = 1e-7  # largest rate that is left [m/s^2, rad/s^2, m/s]
_LOCAL = (4, 5, 6, 7, 12, 13, 14, 15, 16)  # local states that a bend fills: tyres, bushes
_SCALE = np.array([1.0] * 4 + [1e-4] * 5)  # of these states: forces in the bushes are thousands of newtons
_HAND = 11 - 3  # the hand wheel is held: what it turns beyond its angle is no unknown
_GRIP = 1e3  # friction of a tyre that does not slide [-]
_STIFF = 1e8  # of a steering that does not give [N m/rad]
_FLAT = 1e7  # reference load of a tyre whose cornering stiffness goes with the load [N]


@dataclass(frozen=True, kw_only=True)
class SteadyBend:
    """A vehicle in a steady bend; lateral acceleration and angles to the left positive.

    Attributes
    ----------
    speed, lateral_acceleration : float
        Forward speed of the sprung centre of mass, and that times the yaw rate [m/s], [m/s^2].
    steer : float
        Hand wheel over the steering ratio [rad].
    sideslip, roll, pitch : float
        Direction of motion against the body's, of the body against the road [rad]; a left bend rolls to the right,
        which is positive.
    axle_roll : pair of float
        Of front and rear axle relative to the body [rad].
    wheel_load, side_force : array (4,)
        [N].
    state : array
        Unknowns of the solver, to start from.
    running : tuple of arrays
        Positions, speeds and local states of the kernels.
    """

    speed: float
    lateral_acceleration: float
    steer: float
    sideslip: float
    roll: float
    pitch: float
    axle_roll: tuple[float, float]
    wheel_load: Floats
    side_force: Floats
    state: Floats
    running: tuple[Floats, Floats, Floats]

    @property
    def transfer(self) -> tuple[float, float]:
        """Load that front and rear axle move from the left wheel to the right one [N]."""
        n = self.wheel_load
        return float(0.5 * (n[1] - n[0])), float(0.5 * (n[3] - n[2]))


def steady_bend(
    vehicle: Vehicle,
    *,
    speed: float,
    lateral_acceleration: float,
    start: Floats | None = None,
    rest: Rest | None = None,
) -> SteadyBend:
    """Return the vehicle in a steady bend at a held speed, friction of dampers and springs left out.

    Parameters
    ----------
    vehicle : Vehicle
        What goes round.
    speed : float
        [m/s], above 0.
    lateral_acceleration : float
        To the left positive [m/s^2].
    start : array, optional
        `SteadyBend.state` of a bend nearby; otherwise the bend is tightened in steps from straight running.
    rest : Rest, optional
        Where the vehicle stands; found if not given.

    Raises
    ------
    DomainError
        For a speed that is not above 0.
    SolverError
        If the tyres cannot hold it, with what is left and at which lateral acceleration.
    """
    if not (math.isfinite(speed) and speed > 0.0):
        raise DomainError(f"a bend needs a speed above 0, not {speed:g} m/s")
    solver = _Bend(vehicle, speed, settle(vehicle) if rest is None else rest)
    if start is not None:
        return solver.solve(start, lateral_acceleration)
    bend = solver.solve(solver.start, 0.0)
    steps = max(math.ceil(abs(lateral_acceleration) / _STEP), 1)
    for i in range(1, steps + 1):
        bend = solver.solve(bend.state, lateral_acceleration * i / steps)
    return bend


class _Bend:
    """Equations of a bend: positions, sideways speed, tyres, bushes and hand wheel so that nothing accelerates."""

    def __init__(self, vehicle: Vehicle, speed: float, rest: Rest) -> None:
        self.packed = pack(vehicle, lag=0.0, friction=False)
        self.evaluate = Evaluator(self.packed, lag=0.0)
        self.speed = speed
        self.start = np.concatenate([rest.q[3:], np.zeros(2 + len(_LOCAL))])

    def running(self, x: Floats, lateral: float) -> tuple[Floats, Floats, Floats]:
        """Return positions, speeds and local states of the kernels."""
        n = k.POSITIONS - 3
        q = np.concatenate([np.zeros(3), x[:n]])
        turn = lateral / self.speed
        st, ct, sp, cp = math.sin(q[4]), math.cos(q[4]), math.sin(q[5]), math.cos(q[5])
        u = np.zeros(k.SPEEDS)
        u[:4] = -turn * st, turn * ct * sp, turn * ct * cp, x[n]
        local = damper_travel(self.packed, q)
        local[list(_LOCAL)] = x[n + 2 :] / _SCALE
        return q, u, local

    def residual(self, x: Floats, lateral: float) -> Floats:
        """Return the accelerations and the rates of tyres and bushes, which are to vanish."""
        inputs = np.zeros(k.INPUTS)
        inputs[k.IN_SPEED], inputs[k.IN_STEER] = self.speed, x[k.POSITIONS - 2]
        acceleration = self.evaluate(*self.running(x, lateral), inputs)
        return np.concatenate([acceleration, self.evaluate.local_rate[list(_LOCAL)] * _SCALE])

    def solve(self, x: Floats, lateral: float) -> SteadyBend:
        x = x.copy()
        r = self.residual(x, lateral)
        size = float(np.abs(r).max())
        for _ in range(_TRIES):
            if size < _STILL:
                break
            slopes = np.zeros((r.size, x.size))
            for i in range(x.size):
                if i == _HAND:
                    continue
                ahead, behind = x.copy(), x.copy()
                ahead[i] += 1e-6
                behind[i] -= 1e-6
                slopes[:, i] = (self.residual(ahead, lateral) - self.residual(behind, lateral)) / 2e-6
            if not np.all(np.isfinite(slopes)):
                break
            # what the vehicle does not have (bushes that give) has neither row nor column: least squares
            move = -np.linalg.lstsq(slopes, r, rcond=1e-12)[0]
            share = 1.0
            for _ in range(8):
                trial = x + share * move
                r_trial = self.residual(trial, lateral)
                if float(np.abs(r_trial).max()) < size:
                    break
                share *= 0.5
            x, r = trial, r_trial
            size = float(np.abs(r).max())
            if not size < 1e6:
                break
        if not size < 1e-5:
            raise SolverError(
                f"no steady bend at {3.6 * self.speed:.0f} km/h and {lateral:.2f} m/s^2: {size:.2g} m/s^2 are left; "
                "the tyres cannot hold it, or the vehicle tips"
            )
        log, n = self.evaluate.log, k.POSITIONS - 3
        _ = self.residual(x, lateral)
        if log[37] > 1e-9:
            raise SolverError(
                f"in a bend at {lateral:.2f} m/s^2 an axle leaves its map (front roll {math.degrees(x[4]):.1f} deg, "
                f"rear {math.degrees(x[6]):.1f} deg)"
            )
        return SteadyBend(
            speed=self.speed,
            lateral_acceleration=lateral,
            steer=float(x[n + 1]),
            sideslip=math.atan2(float(x[n]), self.speed),
            roll=float(x[2]),
            pitch=float(x[1]),
            axle_roll=(float(x[4]), float(x[6])),
            wheel_load=log[0:4].copy(),
            side_force=log[20:24].copy(),
            state=x,
            running=self.running(x, lateral),
        )


@dataclass(frozen=True, kw_only=True)
class Cornering:
    """Gradients of a vehicle about a steady bend, per lateral acceleration; see `cornering`.

    Attributes
    ----------
    bend : SteadyBend
        The bend.
    understeer : float
        Gradient of the hand wheel's angle over the steering ratio less that of a rolling bend [rad s^2/m].
    roll, sideslip : float
        Gradient of roll and sideslip [rad s^2/m].
    front_share : float
        Share of the front axle in the load transfer [-].
    tips_at : float
        Lateral acceleration at which the inner wheels would be unloaded if the transfer went on as here [m/s^2].
    """

    bend: SteadyBend
    understeer: float
    roll: float
    sideslip: float
    front_share: float
    tips_at: float

    def characteristic_speed(self, wheelbase: float) -> float:
        """Return the speed at which an understeering vehicle answers most, or an oversteering one turns round [m/s].

        Infinite where it is neutral. V = sqrt(L / |K|): Gillespie, Fundamentals of Vehicle Dynamics, chapter 6.
        """
        return math.sqrt(wheelbase / abs(self.understeer)) if self.understeer != 0.0 else math.inf


def cornering(vehicle: Vehicle, *, speed: float, lateral_acceleration: float, rest: Rest | None = None) -> Cornering:
    """Return the gradients of ISO 4138 about a steady bend at a held speed.

    Parameters
    ----------
    vehicle, speed, lateral_acceleration, rest
        As `steady_bend`.
    """
    rest = settle(vehicle) if rest is None else rest
    bend = steady_bend(vehicle, speed=speed, lateral_acceleration=lateral_acceleration, rest=rest)
    low, high = (
        steady_bend(
            vehicle, speed=speed, lateral_acceleration=lateral_acceleration + d, start=bend.state, rest=rest
        )
        for d in (-_HALF, _HALF)
    )  # fmt: skip
    span = 2.0 * _HALF
    straight = rest.wheel_load
    moved = [t - 0.5 * (straight[i + 1] - straight[i]) for t, i in zip(bend.transfer, (0, 2), strict=True)]
    inner = 0.5 * float(straight.sum())
    whole = sum(moved)
    return Cornering(
        bend=bend,
        understeer=(high.steer - low.steer) / span - vehicle.wheelbase / speed**2,
        roll=(high.roll - low.roll) / span,
        sideslip=(high.sideslip - low.sideslip) / span,
        front_share=moved[0] / whole,
        tips_at=abs(lateral_acceleration * inner / whole),
    )


@dataclass(frozen=True, kw_only=True)
class UndersteerShares:
    """What makes a vehicle understeer in a bend: gradients [rad s^2/m], understeer positive; they add up to the whole.

    Attributes
    ----------
    whole : float
        Of the vehicle as it is.
    tyres : float
        Of the tyres at their loads in straight running alone, everything else switched off.
    causes : mapping of str to float
        What each adds: the whole less the vehicle without it.
    together : float
        What the causes do to each other: the rest of the sum.
    """

    whole: float
    tyres: float
    causes: Mapping[str, float]
    together: float


def understeer_shares(
    vehicle: Vehicle, *, speed: float, lateral_acceleration: float, rest: Rest | None = None
) -> UndersteerShares:
    """Return the understeer gradient split by cause, each found by switching it off.

    Parameters
    ----------
    vehicle, speed, lateral_acceleration, rest
        As `steady_bend`.
    """
    rest = settle(vehicle) if rest is None else rest
    stands = rest

    def gradient(other: Vehicle) -> float:
        return cornering(other, speed=speed, lateral_acceleration=lateral_acceleration, rest=stands).understeer

    whole, bare = gradient(vehicle), vehicle
    causes: dict[str, float] = {}
    for name, without in CAUSES.items():
        causes[name] = whole - gradient(without(vehicle, rest))
        bare = without(bare, rest)
    tyres = gradient(bare)
    return UndersteerShares(whole=whole, tyres=tyres, causes=causes, together=whole - tyres - sum(causes.values()))


def _each(vehicle: Vehicle, change: Callable[[AxleParts, int], AxleParts]) -> Vehicle:
    return replace(vehicle, front=change(vehicle.front, 0), rear=change(vehicle.rear, 1))


def _even_loads(vehicle: Vehicle, rest: Rest) -> Vehicle:
    """Cornering stiffness goes with the load, so that a load moved across an axle changes nothing."""

    def even(parts: AxleParts, a: int) -> AxleParts:
        load = float(rest.wheel_load[2 * a : 2 * a + 2].mean())
        slope = parts.tyre.cornering(load) / load * _FLAT / (1.0 + PEAK_LOAD**-2)
        return replace(parts, tyre=replace(parts.tyre, cornering_stiffness=slope, reference_load=_FLAT))

    return _each(vehicle, even)


def _grip(vehicle: Vehicle, _: Rest) -> Vehicle:
    """Side force goes with the slip angle however large."""
    return _each(vehicle, lambda p, _: replace(p, tyre=replace(p.tyre, friction=_GRIP)))


def _upright(vehicle: Vehicle, _: Rest) -> Vehicle:
    """Camber gives no side force."""
    return _each(vehicle, lambda p, _: replace(p, tyre=replace(p.tyre, camber_gain=0.0)))


def _straight(vehicle: Vehicle, rest: Rest) -> Vehicle:
    """Wheels keep the steer that they have at rest, wherever the axle goes."""

    def straight(parts: AxleParts, a: int) -> AxleParts:
        grid = parts.axle
        steer = np.empty_like(grid.steer)
        for side in (0, 1):
            at = RectBivariateSpline(grid.heave, grid.roll, grid.steer[..., side]).ev(rest.heave[a], rest.roll[a])
            steer[..., side] = float(at)
        return replace(parts, axle=replace(grid, steer=steer))

    return _each(vehicle, straight)


def _no_trail(vehicle: Vehicle, _: Rest) -> Vehicle:
    """Side forces act at the middle of the contact."""
    return _each(vehicle, lambda p, _: replace(p, tyre=replace(p.tyre, pneumatic_trail=0.0)))


def _stiff_steering(vehicle: Vehicle, _: Rest) -> Vehicle:
    """Column, rods and gear do not give."""
    if vehicle.steering is None:
        return vehicle
    return replace(vehicle, steering=replace(vehicle.steering, stiffness=_STIFF))


def _stiff_bushes(vehicle: Vehicle, _: Rest) -> Vehicle:
    """Bushes do not give."""
    return _each(vehicle, lambda p, _: replace(p, give=RIGID))


#: Each cause of understeer, and the vehicle without it.
CAUSES: dict[str, Callable[[Vehicle, Rest], Vehicle]] = {
    "load transfer": _even_loads,
    "tyres near their grip": _grip,
    "camber": _upright,
    "roll steer": _straight,
    "aligning moments": _no_trail,
    "steering gives": _stiff_steering,
    "bushes give": _stiff_bushes,
}
