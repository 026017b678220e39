"""Driving the vehicle over a road in time."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion import point_kernels as pk
from tussock.mechanics.motion.divergence import diverged, tipped
from tussock.mechanics.motion.driver import NO_DRIVER
from tussock.mechanics.motion.frame import Shape
from tussock.mechanics.motion.rest import Rest, settle
from tussock.mechanics.motion.road_input import fill_inputs, half_steps
from tussock.mechanics.motion.vehicle import Packed, Vehicle, pack
from tussock.mechanics.motion.workspace import Workspace
from tussock.mechanics.roads import Track

STEP = 1e-3  # default time step [s]
BRAKES_FROM = 0.5  # deceleration from which the brakes alone slow the vehicle [m/s^2]; below it the drive helps


@dataclass(frozen=True, kw_only=True)
class History:
    """What happened, at even times.

    Positions and velocities belong to `time`; forces and accelerations to half a step before it (`force_time`).
    Wheels stand in the order front left, front right, rear left, rear right; axles front, rear. Each column lies in one
    piece of memory.

    Attributes
    ----------
    time, force_time : array (n,)
        [s].
    position : array (n, 13)
        X, Y, yaw, height, pitch, roll of the sprung centre of mass; heave, roll of front and rear axle; steer about the
        king pins, hand wheel over the steering ratio, twist of the frame [m], [rad]; see `kernels`.
    velocity : array (n, 12)
        Roll, pitch, yaw rate in body axes; lateral and vertical speed; heave and roll rate of both axles; rates of
        steer and hand wheel; of the twist.
    wheel_load, damper_velocity, damper_force : array (n, 4)
        [N], [m/s] of the rod, [N] of oil and friction; compression and force that lifts the body are positive; gas
        force not included.
    damper_end_force : array (n, 4)
        Of the stops at the ends of the dampers' strokes [N]: bottoming positive, topping out negative.
    stop_force, stop_speed, stop_compression : array (n, 4)
        [N], closing speed [m/s], [m]; a stop that does not touch has its gap as negative compression.
    spring_length, side_force : array (n, 4)
        [m], [N].
    spring_friction : array (n, 4)
        Friction force of the springs, positive where it holds against compression [N].
    centre_acceleration : array (n, 3)
        Of the sprung centre of mass in body axes, gravity not included [m/s^2].
    angular_acceleration, angular_velocity : array (n, 3)
        In body axes [rad/s^2], [rad/s].
    traction : array (n,)
        [N].
    longitudinal_force, aligning_moment : array (n, 4)
        Of drive or brakes at the ground, forward positive [N]; about the vertical, left positive [N m].
    steering_moment : array (n,)
        What the hand wheel holds, about the king pins, left positive; over the steering ratio the torque on it [N m].
    steer : array (n,)
        Steer of the front wheels that the hand wheel asks for, at half a step before `time`; left positive [rad].
    work : array (6,)
        Work of road, traction, dampers with all friction, tyre damping, side forces and outside inputs over the run
        [J].
    outside_tables : float
        Largest distance outside the axle maps, in their cells; 0 inside.
    step : float
        Time between samples [s].
    shape : Shape or None
        How the body twists with its frame.
    twist_acceleration : array (n,)
        Second rate of that twist [rad/s^2].
    """

    time: Floats
    force_time: Floats
    position: Floats
    velocity: Floats
    wheel_load: Floats
    damper_velocity: Floats
    damper_force: Floats
    damper_end_force: Floats
    stop_force: Floats
    stop_speed: Floats
    stop_compression: Floats
    spring_length: Floats
    spring_friction: Floats
    side_force: Floats
    centre_acceleration: Floats
    angular_acceleration: Floats
    angular_velocity: Floats
    traction: Floats
    longitudinal_force: Floats
    aligning_moment: Floats
    steering_moment: Floats
    steer: Floats
    work: Floats
    outside_tables: float
    step: float
    shape: Shape | None
    twist_acceleration: Floats

    def turning_at(self, ahead: float) -> tuple[Floats, Floats, Floats]:
        """Return acceleration of the sprung centre of mass, angular acceleration and velocity of a slice of the body.

        Each (3, n), in the axes of the slice, which are the body's unless a frame twists [m/s^2], [rad/s^2], [rad/s].

        Parameters
        ----------
        ahead : float
            Place of the slice before the sprung centre of mass [m].
        """
        whole = np.ascontiguousarray
        centre, turning, rate = self.centre_acceleration.T, self.angular_acceleration.T, self.angular_velocity.T
        if self.shape is None:
            return whole(centre), whole(turning), whole(rate)
        share = self.shape.at(ahead)
        # forces belong to half a step before positions: the mean of two samples stands for them
        twist, speed = (
            share * 0.5 * (x + np.concatenate([x[:1], x[:-1]])) for x in (self.position[:, 12], self.velocity[:, 11])
        )
        c, s = np.cos(twist), np.sin(twist)

        def turned(v: Floats) -> Floats:
            return np.stack([v[0], c * v[1] + s * v[2], c * v[2] - s * v[1]])

        centre, turning, rate = turned(centre), turned(turning), turned(rate)
        turning += np.stack([share * self.twist_acceleration, speed * rate[2], -speed * rate[1]])
        rate[0] += speed
        return centre, turning, rate

    def acceleration_at(self, lever: tuple[float, float, float]) -> Floats:
        """Return the acceleration of a body-fixed point (n, 3) in body axes without gravity [m/s^2].

        Parameters
        ----------
        lever : tuple of float
            From the sprung centre of mass to the point [m].
        """
        out = np.empty((3, self.time.size))
        pk.point_acceleration(*self.turning_at(lever[0]), np.asarray(lever, dtype=np.float64), out)
        return out.T


def simulate(
    vehicle: Vehicle,
    road: Track,
    *,
    speed: float | Floats,
    step: float = STEP,
    every: int = 2,
    rest: Rest | None = None,
    steer: Floats | float | None = None,
    side_force: Floats | None = None,
    yaw_moment: Floats | None = None,
    roll_moment: Floats | None = None,
    forward_force: Floats | None = None,
    pitch_moment: Floats | None = None,
    sideslip: float = 0.0,
    pilot: tuple[Floats, Floats, Floats, Floats] = NO_DRIVER,
    packed: Packed | None = None,
    memory: Workspace | None = None,
) -> History:
    """Drive the vehicle over a road from rest on its springs, at a held speed or along a speed profile.

    What slows it by more than 0.5 m/s^2 is taken to be the brakes, by less the drive.

    Parameters
    ----------
    vehicle : Vehicle
        What is driven.
    road : Track
        Where.
    speed : float or array (n,)
        Held for the whole road, or at each half step [m/s].
    step : float
        Time step [s].
    every : int
        Keep every so many steps.
    rest : Rest, optional
        Where it stands; found if not given.
    steer : float or array (n,), optional
        Steer of the front wheels that the hand wheel asks for at half steps, or held [rad].
    side_force, yaw_moment, roll_moment, forward_force, pitch_moment : array (n,), optional
        Outside force and moments at the sprung centre of mass at half steps [N], [N m]; drag is negative.
    sideslip : float
        Direction in which the vehicle moves at the start, against where it points, left positive [rad].
    pilot : tuple of array
        A driver who adds to the steer, as `Driver.arrays` gives; nobody unless given.
    packed : Packed, optional
        The vehicle packed for half this step; packed here if not given.
    memory : Workspace, optional
        Where the run's arrays lie; the history then holds until the next run there.

    Raises
    ------
    SolverError
        If the run diverges, with time, place and the force that grew, or the vehicle tips over.
    """
    packed = pack(vehicle, lag=0.5 * step) if packed is None else packed
    rest = settle(vehicle) if rest is None else rest
    memory = Workspace() if memory is None else memory
    n, pace = half_steps(speed, length=road.length, step=step)
    inputs, row, series = memory.array("inputs", n, k.INPUTS), np.zeros(k.INPUTS), dict[int, Floats]()
    if pace.size > 1:
        series[k.IN_SPEED], series[k.IN_ACCELERATION] = pace, np.asarray(np.gradient(pace, step), dtype=np.float64)
        series[k.IN_BRAKING] = np.clip(-series[k.IN_ACCELERATION] / BRAKES_FROM, 0.0, 1.0)
    else:
        row[k.IN_SPEED] = pace[0]
    for column, given in (
        (k.IN_STEER, steer),
        (k.IN_SIDE_FORCE, side_force),
        (k.IN_ROLL_MOMENT, roll_moment),
        (k.IN_YAW_MOMENT, yaw_moment),
        (k.IN_FORWARD_FORCE, forward_force),
        (k.IN_PITCH_MOMENT, pitch_moment),
    ):
        values = np.asarray(0.0 if given is None else given, dtype=np.float64)
        if values.ndim and values.shape != (n,):
            raise DomainError(f"an input series has {values.size} values; the run has {n} half steps")
        if not np.all(np.isfinite(values)):
            raise DomainError(
                f"an input of the motion is not a number at {int(np.argmin(np.isfinite(values))) * step:.3f} s"
            )
        if values.ndim:
            series[column] = values
            if column == k.IN_STEER:
                series[k.IN_STEER_RATE] = np.asarray(np.gradient(values, step), dtype=np.float64)
        else:
            row[column] = values
    if k.IN_STEER in series and n > 1:
        series[k.IN_STEER_RATE] = np.asarray(np.gradient(series[k.IN_STEER], step), dtype=np.float64)
    fill_inputs(
        inputs,
        road,
        speed=pace,
        row=row,
        wheelbase=vehicle.wheelbase,
        step=step,
        contact_length=vehicle.front.tyre.contact_length,
    )
    for column, values in series.items():
        inputs[:, column] = values
    velocity = np.zeros(k.SPEEDS)
    velocity[3] = float(inputs[0, k.IN_SPEED]) * math.tan(sideslip)
    return _march(
        packed=packed,
        rest=rest,
        inputs=inputs,
        step=step,
        every=every,
        gravity=vehicle.gravity,
        velocity=velocity,
        pilot=pilot,
        memory=memory,
    )


def _no_grip(time: float, place: float, log: Floats) -> str:
    """Return what to say of an axle whose tyres do not hold the longitudinal force."""
    a = int(log[59] > log[58])
    force, loads = log[60 + 2 * a : 62 + 2 * a], log[2 * a : 2 * a + 2]
    asked = float(np.abs(force).sum())
    return (
        f"the tyres of the {('front', 'rear')[a]} axle cannot hold what the speed asks of them at {time:.3f} s, "
        f"{place:.1f} m down the road: {asked:.0f} N along the road on a load of {float(loads.sum()):.0f} N, "
        f"{log[58 + a]:.2f} times what friction holds; slow down more gently or share brakes and drive otherwise"
    )


def march(
    *,
    packed: Packed,
    rest: Rest,
    inputs: Floats,
    step: float,
    every: int,
    gravity: float,
    velocity: Floats | None = None,
    pilot: tuple[Floats, Floats, Floats, Floats] = NO_DRIVER,
) -> History:
    """March through given inputs (n, k.INPUTS) from a rest; see `simulate`.

    A driver's steer is added to a copy of them.
    """
    with np.errstate(invalid="ignore", over="ignore"):
        finite = math.isfinite(float(np.sum(inputs)))
    if not finite:
        bad = int(np.argmax(~np.isfinite(inputs).all(axis=1)))
        raise DomainError(f"an input of the motion is not a number at {bad * step:.3f} s")
    if inputs.shape[1:] != (k.INPUTS,):
        raise DomainError(f"the inputs of the motion have {k.INPUTS} columns, not {inputs.shape[-1]}")
    if rest.q.shape != (k.POSITIONS,) or rest.local.shape != (k.LOCAL,):
        raise DomainError(
            f"a start has {k.POSITIONS} positions and {k.LOCAL} local states, not {rest.q.size} and {rest.local.size}"
        )
    if velocity is not None and velocity.shape != (k.SPEEDS,):
        raise DomainError(f"a start has {k.SPEEDS} speeds, not {velocity.size}")
    return _march(
        packed=packed,
        rest=rest,
        inputs=inputs.copy() if pilot[0].size else inputs,
        step=step,
        every=every,
        gravity=gravity,
        velocity=np.zeros(k.SPEEDS) if velocity is None else velocity,
        pilot=pilot,
        memory=Workspace(),
    )


def _march(
    *,
    packed: Packed,
    rest: Rest,
    inputs: Floats,
    step: float,
    every: int,
    gravity: float,
    velocity: Floats,
    pilot: tuple[Floats, Floats, Floats, Floats],
    memory: Workspace,
) -> History:
    """March through inputs that are sound; a driver's steer is added to them in place."""
    n = inputs.shape[0]
    q, u, local, pilot = rest.q.copy(), velocity.copy(), rest.local.copy(), (*pilot[:3], pilot[3].copy())
    # wheels on an elastic column start where the hand wheel holds them
    q[10] += packed.body[k.B_STEERS] * inputs[0, k.IN_STEER]
    kept = n // every
    states, logs = memory.array("states", k.POSITIONS + k.SPEEDS, kept), memory.array("logs", k.LOG, kept)
    power = np.zeros(7)
    done = k.run(q, u, local, inputs, step, every, *packed.arguments, states, logs, power, *pilot)
    if done < 0:
        raise SolverError(_no_grip(-done * step, step * float(inputs[:-done, k.IN_SPEED].sum()), logs[:, 0]))
    whole = done // every
    over = tipped(states[: k.POSITIONS, :whole].T, logs[:, :whole].T)
    if over is not None and over.sound:
        raise SolverError(over.words(inputs, step=step, every=every))
    if done < n or over is not None:
        start = (rest.q, velocity, rest.local)
        raise SolverError(diverged(packed, start, inputs, step=step, done=done if over is None else over.kept * every))
    time = (np.arange(kept) + 1) * step * every
    return History(
        time=time,
        force_time=time - 0.5 * step,
        position=states[: k.POSITIONS].T,
        velocity=states[k.POSITIONS :].T,
        wheel_load=logs[0:4].T,
        damper_velocity=logs[4:8].T,
        damper_force=logs[8:12].T,
        damper_end_force=logs[68:72].T,
        stop_force=logs[12:16].T,
        stop_speed=logs[38:42].T,
        stop_compression=logs[48:52].T,
        spring_length=logs[16:20].T,
        spring_friction=logs[52:56].T,
        side_force=logs[20:24].T,
        centre_acceleration=(logs[25:28] - gravity * logs[[42, 43, 47]]).T,
        angular_acceleration=logs[28:31].T,
        angular_velocity=logs[44:47].T,
        traction=logs[24],
        longitudinal_force=logs[60:64].T,
        aligning_moment=logs[64:68].T,
        steering_moment=logs[56],
        steer=inputs[every - 1 : kept * every : every, 14].copy(),
        work=power[:6],
        outside_tables=float(power[6]),
        step=step * every,
        shape=packed.shape,
        twist_acceleration=logs[72],
    )
