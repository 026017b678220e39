"""Steering and give of the bushes of a built axle, as the motion takes them: from its linkage and the record."""

from __future__ import annotations

import math

import numpy as np

from tussock.errors import SolverError
from tussock.mechanics.linkage import Axle, Wheel, axle_compliance, wheel_compliance
from tussock.mechanics.linkage.wheel_sweep import sweep_wheel
from tussock.mechanics.motion import Give, Steering
from tussock.studies import parts
from tussock.studies.job import Job
from tussock.studies.suspensions import Suspension

# of a programme that does not say; common practice, no source
RATIO = 18.0  # hand wheel over road wheels [-]
STIFFNESS = 25e3  # of the steering at the king pins, the hand wheel held [N m/rad]
FRICTION = 1.0  # at the hand wheel [N m]
HAND_WHEEL = 0.035  # inertia of the hand wheel with its column [kg m^2]
HUB = 35.0  # mass of a wheel with hub and brake that turns about its king pin [kg]
DAMPING = 0.05  # damping ratio of the wheels on the steering [-]
ARM = 0.15  # of a steering damper about the king pins [m]
_NOTHING = 1e-15  # give that is none [rad/N]
_TURN = {"rack": 2e-3, "relay": 0.02}  # by which the steering is turned to find its ratio [m], [rad]


def ratio(job: Job, built: Suspension, heave: float) -> float:
    """Return the hand wheel's angle over the mean steer of the front wheels, straight on at a heave [-].

    Of a rigid axle the pitman arm and the steering arm are taken to be alike.
    """
    said = job.programme.vehicle.axles["front"].steering
    if said is None:
        return RATIO
    if not isinstance(built, Wheel):
        return float(said.ratio) if said.ratio is not None else RATIO
    if built.steering == "fixed":
        return RATIO
    turn = _TURN[built.steering]
    steer = sweep_wheel(built, np.array([heave]), np.array([-turn, turn])).road_steer[0]
    gain = float(steer[1] - steer[0]) / (2.0 * turn)
    if built.steering == "rack":
        turns = float(said.travel_per_turn) if said.travel_per_turn is not None else None
        return RATIO if turns is None else 2.0 * math.pi / (turns * abs(gain))
    return RATIO if said.ratio is None else float(said.ratio) / abs(gain)


def king_pins(job: Job, built: Suspension, heave: float, pitch: float) -> tuple[float, float, float, float]:
    """Return caster and inclination [rad], caster offset and king-pin offset at the wheel centre's height [m].

    Parameters
    ----------
    job, built
        Programme and its front axle.
    heave, pitch : float
        At which it stands [m], [rad].
    """
    if isinstance(built, Wheel):
        s = sweep_wheel(built, np.array([heave]))
        found = (s.caster, s.king_pin_inclination, s.centre_caster_offset, s.centre_king_pin_offset)
        caster, inclination, ahead, inward = (float(value[0, 0]) for value in found)
        return caster, inclination, ahead, inward
    points = parts.hardpoints(job, "front")
    low, top, centre = (np.asarray(points[n]) for n in ("king_pin_lower", "king_pin_upper", "wheel_centre"))
    axis = top - low
    foot = low + axis * (centre[2] - low[2]) / axis[2]
    caster, inclination = math.atan2(-axis[0], axis[2]), math.atan2(-axis[1], axis[2])
    return caster - pitch, inclination, float(foot[0] - centre[0]), float(centre[1] - foot[1])


def steering(job: Job, built: Suspension, *, heave: float, pitch: float, lean: tuple[float, float]) -> Steering | None:
    """Return the steering of the front wheels where the axle stands; None if they do not steer.

    Parameters
    ----------
    job, built
        Programme and its front axle.
    heave, pitch : float
        At which the axle stands [m]; what it has turned there, nose down [rad].
    lean : pair of float
        Inclination of the left and the right wheel at that heave and no roll, left end up [rad].
    """
    axle = job.programme.vehicle.axles["front"]
    said = axle.steering
    if said is None or not (built.steering != "fixed" if isinstance(built, Wheel) else built.steers):
        return None
    gear = ratio(job, built, heave)
    caster, inclination, ahead, inward = king_pins(job, built, heave, pitch)
    spin = float(axle.wheel_spin_inertia)
    one = 0.5 * spin + HUB * (ahead**2 + inward**2) if said.wheel_inertia is None else float(said.wheel_inertia)
    stiffness = STIFFNESS if said.stiffness is None else float(said.stiffness) * gear**2
    arm = ARM if said.damper_arm is None else float(said.damper_arm)
    return Steering(
        inertia=2.0 * one,
        stiffness=stiffness,
        damping=2.0 * DAMPING * math.sqrt(2.0 * one * stiffness),
        damper=0.0 if said.damper is None else float(said.damper) * arm**2,
        friction=(FRICTION if said.friction is None else float(said.friction)) * gear,
        caster=caster,
        inclination=inclination,
        caster_offset=ahead,
        king_pin_offset=inward,
        hand_wheel=(HAND_WHEEL if said.hand_wheel_inertia is None else float(said.hand_wheel_inertia)) * gear**2,
        ratio=gear,
        pitch=pitch,
        lean=lean,
    )


def give(built: Suspension, *, heave: float) -> Give:
    """Return how the bushes of an axle let its wheels turn and move where it stands, steering held.

    On the ground the wheels of a rigid axle move with the axle, by the side forces of both.
    """
    at = np.array([heave])
    try:
        if isinstance(built, Axle):
            whole = axle_compliance(built, at, np.zeros(1))
            steer, brake = float(whole.steer[0, 0]), float(whole.braking_steer[0, 0])
            # a unit that both wheels share is half of it at each; braking is a rearward force
            return Give(
                steer=(steer, steer),
                brake_steer=(-2.0 * brake, -2.0 * brake),
                shift=max(2.0 * float(whole.lateral[0, 0]), 0.0),
            )
        one = wheel_compliance(built, at)
    except SolverError as error:
        raise SolverError(f"give of the bushes at the height where it stands: {error}") from None
    toe, lean, brake = (
        # of rigid joints rounding errors are left
        value if abs(value) > _NOTHING else 0.0
        for value in (float(v[0, 0]) for v in (one.lateral_toe, one.lateral_camber, one.braking_toe))
    )
    return Give(
        steer=(toe, 0.0),
        inclination=lean,
        # braked, toe-in turns the left wheel to the right and the right one to the left
        brake_steer=(brake, -brake),
        shift=max(float(one.lateral[0, 0]), 0.0),
    )
