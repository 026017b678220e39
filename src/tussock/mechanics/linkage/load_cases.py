"""Load cases of one end of a vehicle as data, and a suspension's answer to each: steer, wind-up, joint loads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.stations import Suspension, WheelForce
from tussock.mechanics.linkage.under_load import LoadedState, under_load
from tussock.mechanics.linkage.wheel import Wheel


@dataclass(frozen=True, kw_only=True)
class CaseRow:
    """One line of the table of load cases, in shares of g and of the static wheel load.

    `lateral` is the vehicle's acceleration to the left, `braking` and `driving` its deceleration and acceleration [g];
    `vertical` multiplies the static wheel load.
    """

    name: str
    title: str
    lateral: float = 0.0
    braking: float = 0.0
    driving: float = 0.0
    vertical: float = 1.0


#: Common practice, no source: sizes of the usual cases of a bush and link check.
CASES: tuple[CaseRow, ...] = (
    CaseRow(name="static", title="standing"),
    CaseRow(name="left_turn", title="left turn, 0.5 g", lateral=0.5),
    CaseRow(name="right_turn", title="right turn, 0.5 g", lateral=-0.5),
    CaseRow(name="braking", title="braking, 0.7 g", braking=0.7),
    CaseRow(name="driving", title="driving, 0.5 g", driving=0.5),
    CaseRow(name="reverse", title="driving backward, 0.3 g", driving=-0.3),
    CaseRow(name="bump", title="bump, three times the wheel load", vertical=3.0),
    CaseRow(name="braking_in_turn", title="braking 0.5 g in a left turn of 0.4 g", braking=0.5, lateral=0.4),
)


@dataclass(frozen=True, kw_only=True)
class EndOfVehicle:
    """What the load cases of one end need to know of the vehicle.

    Attributes
    ----------
    end : {'front', 'rear'}
    load : float
        Static load of this end on the ground [N].
    vehicle_load : float
        That of the whole vehicle [N].
    gravity_height, wheelbase, track : float
        [m].
    brake_share, drive_share : float
        Of all braking and driving force, 0 to 1.
    inboard_brakes : bool
        Whether brakes of independent wheels sit on the final drive.
    propeller_ratio : float
        Turns of the propeller shaft per turn of the wheels; its torque rolls a driven rigid axle. 0 leaves it out.
    wheel_radius : float
        [m]; needed with `propeller_ratio`.
    """

    end: Literal["front", "rear"]
    load: float
    vehicle_load: float
    gravity_height: float
    wheelbase: float
    track: float
    brake_share: float
    drive_share: float
    inboard_brakes: bool = False
    propeller_ratio: float = 0.0
    wheel_radius: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a vehicle that cannot be."""
        for word in ("load", "vehicle_load", "gravity_height", "wheelbase", "track"):
            value = getattr(self, word)
            if not (np.isfinite(value) and value > 0.0):
                raise InputError(f"load cases: {word} is {value}; it must be above zero")
        for word in ("brake_share", "drive_share"):
            if not 0.0 <= getattr(self, word) <= 1.0:
                raise InputError(f"load cases: {word} is {getattr(self, word)}; it lies within 0 to 1")

    def forces(self, case: CaseRow, *, independent: bool) -> tuple[WheelForce, WheelForce]:
        """Forces of the road on the left and right wheel in a case.

        The load moves between the ends by the height of the centre of gravity, and across by this end's own share of
        it; side force goes with the wheel load, longitudinal force is shared equally.
        """
        along = case.braking - case.driving
        sign = 1.0 if self.end == "front" else -1.0
        end = self.load + sign * along * self.vehicle_load * self.gravity_height / self.wheelbase
        end = max(end, 0.0) * case.vertical
        across = case.lateral * end * self.gravity_height / self.track
        # to the left accelerated: the right wheel gains
        ups = [min(max(0.5 * end - across, 0.0), end), min(max(0.5 * end + across, 0.0), end)]
        brake = -0.5 * case.braking * self.vehicle_load * self.brake_share
        drive = 0.5 * case.driving * self.vehicle_load * self.drive_share
        torque = 0.0
        if not independent and self.propeller_ratio > 0.0:
            # the shaft turns anticlockwise seen from behind, as usual: driving lifts the right wheel
            torque = -drive * self.wheel_radius / self.propeller_ratio
        found = []
        for up in ups:
            inboard = independent and self.inboard_brakes
            found.append(
                WheelForce(
                    forward=(0.0 if inboard else brake) + (0.0 if independent else drive),
                    drive=(brake if inboard else 0.0) + (drive if independent else 0.0),
                    left=case.lateral * up,
                    up=up,
                    roll_torque=torque,
                )
            )
        return found[0], found[1]


@dataclass(frozen=True, kw_only=True)
class CaseAnswer:
    """Answer to one load case; changes of attitude are against the static case at the same place.

    Arrays (k,) for k wheels: steer (left), toe-in, camber (top outward), caster [rad]; `wind_up` is minus the mean
    change of caster [rad]; `shift` (k, 3) the movement of the contact patches [m]. `state` has every joint's loads.
    """

    case: CaseRow
    forces: tuple[WheelForce, ...]
    steer: Floats
    toe: Floats
    camber: Floats
    caster: Floats
    wind_up: float
    shift: Floats
    state: LoadedState


@dataclass(frozen=True, kw_only=True)
class CaseTable:
    """Answers of a suspension to a list of load cases at one place of its travel.

    `resultants` (number of joints, number of cases) has the size of the force in each of `joints` [N], `worst` the case
    in which each joint carries most.
    """

    answers: tuple[CaseAnswer, ...]
    joints: tuple[str, ...]
    resultants: Floats
    worst: tuple[str, ...]


def case_table(
    suspension: Suspension,
    vehicle: EndOfVehicle,
    *,
    first: float = 0.0,
    second: float = 0.0,
    cases: Sequence[CaseRow] = CASES,
) -> CaseTable:
    """Answers to load cases: compliance steer, camber, wind-up, shift, and the load of every joint.

    Heave and roll, or travel and steering, are held, so that only bushes and leaves give: what the springs do is the
    motion's. An independent wheel takes the forces of its own side.

    Parameters
    ----------
    suspension : Axle or Wheel
    vehicle : EndOfVehicle
    first, second : float
        Heave [m] and roll [rad] of an axle; travel [m] and steering input of a wheel.
    cases : sequence of CaseRow

    Returns
    -------
    CaseTable

    Raises
    ------
    SolverError
        An equilibrium under a load was not found.
    """
    independent = isinstance(suspension, Wheel)

    def answer(row: CaseRow) -> tuple[tuple[WheelForce, ...], LoadedState]:
        both = vehicle.forces(row, independent=independent)
        own: tuple[WheelForce, ...] = both
        if isinstance(suspension, Wheel):
            own = (both[0] if suspension.side == "left" else both[1],)
        return own, under_load(suspension, first, own, second=second)

    _, base = answer(CaseRow(name="static", title="standing"))
    answers = []
    for row in cases:
        forces, state = answer(row)
        answers.append(
            CaseAnswer(
                case=row,
                forces=forces,
                steer=state.steer - base.steer,
                toe=state.toe - base.toe,
                camber=state.camber - base.camber,
                caster=state.caster - base.caster,
                wind_up=-float(np.mean(state.caster - base.caster)),
                shift=state.contact - base.contact,
                state=state,
            )
        )
    joints = tuple(base.resultant)
    resultants = np.array([[a.state.resultant[name] for a in answers] for name in joints])
    return CaseTable(
        answers=tuple(answers),
        joints=joints,
        resultants=resultants,
        worst=tuple(answers[int(k)].case.name for k in np.argmax(resultants, axis=1)),
    )
