"""An independent wheel of any layout, ready to be solved over travel and steer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from tussock.errors import InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.axle import Pose
from tussock.mechanics.linkage.model import Linkage
from tussock.mechanics.linkage.solution import Solution
from tussock.mechanics.linkage.solver import (
    DISTANCE_ACCEPTED,
    HEAVE_STEP,
    ROLL_STEP,
    Axes,
    GridAxis,
    Plan,
    plan_grid,
    run,
    solve_plan,
)

Side = Literal["left", "right"]
SteeringKind = Literal["rack", "relay", "fixed"]
#: Largest step of the rack in a march [m]; about 6 deg at the road wheel.
RACK_STEP = 0.012
#: A wheel has few coordinates, so it can afford one more step for slopes that are exact to 1e-9 [m].
WHEEL_STEP_END = 1e-10
#: A wheel whose parts move faster than this many times its travel is near a lock [-].
LOCK_FACTOR = 5.0
TRAVEL = GridAxis("travel", 1e3, "mm", HEAVE_STEP)
WHEEL_AXES: Mapping[str, Axes] = {
    "rack": (TRAVEL, GridAxis("rack travel", 1e3, "mm", RACK_STEP)),
    "relay": (TRAVEL, GridAxis("pitman angle", float(np.rad2deg(1.0)), "deg", float(ROLL_STEP))),
    "fixed": (TRAVEL, GridAxis("steer", float(np.rad2deg(1.0)), "deg", float(ROLL_STEP))),
}


@dataclass(frozen=True, kw_only=True)
class SpringRod:
    """A spring between the seats ``spring_chassis`` and ``spring_<body>`` that loads the linkage.

    Attributes
    ----------
    rate : float
        [N/m].
    free_length : float
        Distance of the seats at which it carries nothing [m]; longer than that it pulls.
    """

    rate: float
    free_length: float


@dataclass(frozen=True, kw_only=True)
class TorsionSpringing:
    """A torsion bar on the pivot line of the lower arm.

    Attributes
    ----------
    rate : float
        [N m/rad].
    twist : float
        Its twist in the stock pose [rad], positive where it pushes the wheel down.
    """

    rate: float
    twist: float


@dataclass(frozen=True, kw_only=True)
class WheelAttachment:
    """Two points whose distance matters, in the stock pose of a left wheel [m], and the body under `at`."""

    name: str
    chassis: Floats
    at: Floats
    body: str


@dataclass(frozen=True, kw_only=True)
class Wheel:
    """An independent wheel ready to be swept.

    A right wheel is held as its mirror image, so that every part below is a left one; `sign` is -1 then and turns
    lateral answers back. Steering inputs are the vehicle's: rack travel to the left, pitman arm left positive about its
    upward shaft.

    Attributes
    ----------
    name, layout : str
    side : {'left', 'right'}
    steering : {'rack', 'relay', 'fixed'}
    linkage : Linkage
    home : Solution
        Equilibrium at zero travel and steer, changed parts fitted.
    centre : array (3,)
        Wheel centre in the stock pose [m].
    wheel_radius : float
        [m].
    spin : array (3,)
        Direction of the wheel's axis in the stock pose, outward (to the left) [-].
    steering_axis : tuple of (body, array (3,)), twice
        Lower and upper point of the axis that the upright turns about, stock pose [m].
    arm_pivots : array (2, 3)
        Front and rear pivot of the lower arm [m].
    attachments : mapping of WheelAttachment
    drive : array (2, 3) or None
        Inner and outer joint of the drive shaft [m].
    bar_arm : float or None
        Distance from the bar's line to the drop link's end [m].
    """

    name: str
    layout: str
    side: Side
    steering: SteeringKind
    linkage: Linkage
    home: Solution
    centre: Floats
    wheel_radius: float
    spin: Floats
    steering_axis: tuple[tuple[str, Floats], tuple[str, Floats]]
    arm_pivots: Floats
    attachments: Mapping[str, WheelAttachment]
    drive: Floats | None
    bar_arm: float | None

    @property
    def sign(self) -> float:
        """1 on the left, -1 on the right."""
        return 1.0 if self.side == "left" else -1.0

    @property
    def zero(self) -> Floats:
        """Prescribed coordinates at zero travel and steer (nu,)."""
        return np.array([self.centre[2]] if self.steering == "fixed" else [self.centre[2], 0.0])

    def solve(self, travel: Floats, steer: Floats | None = None, *, loaded: tuple[str, ...] = ()) -> Solution:
        """Equilibria over a grid of travel and steer, ``nt * ns`` rows, steer running fastest.

        Parameters
        ----------
        travel : array (nt,)
            Height of the wheel centre above its stock place, bump positive [m].
        steer : array (ns,), optional
            Rack travel to the left [m] or pitman angle, left positive [rad]; straight ahead if not given.
        loaded : tuple of body names, optional
            Bodies whose motion by unit loads is wanted: `Solution.give`.

        Returns
        -------
        Solution
            In the coordinates of a left wheel.

        Raises
        ------
        SolverError
            A node that could not be solved, with its place and the reason.
        InputError
            Steer asked of a wheel that does not steer.
        """
        plan = self._plan(travel, np.zeros(1) if steer is None else np.atleast_1d(np.asarray(steer, dtype=np.float64)))
        try:
            answer = solve_plan(self.linkage, plan, self.home, self.zero, step_end=WHEEL_STEP_END, loaded=loaded)
        except SolverError as error:
            raise type(error)(f"{self.name}: {error}") from None
        return answer.take(plan.wanted.ravel())

    def solve_within(self, travel: Floats, steer: float = 0.0) -> tuple[Floats, Solution]:
        """Equilibria at one steer over as much of a travel grid as the wheel can reach without a break from zero.

        Parameters
        ----------
        travel : array (nt,)
            Rising [m].
        steer : float
            As in `solve`.

        Returns
        -------
        tuple of array (n,) and Solution
            The travels reached, whose motion is no nearer to a lock than `LOCK_FACTOR`, and their poses.

        Raises
        ------
        SolverError
            If no travel of the grid can be reached.
        InputError
            As `solve`.
        """
        plan = self._plan(travel, np.array([steer]))
        answer = run(
            self.linkage,
            plan.inputs + self.zero,
            plan.parent,
            plan.grand,
            start=self.home.coordinates[0],
            start_rotation=self.home.rotation[0],
            step_end=WHEEL_STEP_END,
        ).take(plan.wanted.ravel())
        t = self.linkage.tables
        factor = np.max(np.abs(answer.slope[:, t.free, 0]) * t.scale[t.free], axis=1)
        good = (answer.status == 0) & (answer.distance < DISTANCE_ACCEPTED) & (factor < LOCK_FACTOR)
        middle = int(np.argmin(np.abs(travel)))
        if not good[middle]:
            raise SolverError(
                f"{self.name}: the wheel cannot be brought to a travel of {1e3 * travel[middle]:.1f} mm at this steer"
            )
        bad = np.flatnonzero(~good)
        first = int(bad[bad < middle].max()) + 1 if np.any(bad < middle) else 0
        last = int(bad[bad > middle].min()) if np.any(bad > middle) else travel.size
        return travel[first:last], answer.take(np.arange(first, last))

    def _plan(self, travel: Floats, turn: Floats) -> Plan:
        """Order of a march over travel and steer."""
        if self.steering == "fixed" and np.any(turn != 0.0):
            raise InputError(f"{self.name}: the tie rod ends on the chassis, so this wheel cannot be steered")
        plan = plan_grid(
            np.atleast_1d(np.asarray(travel, dtype=np.float64)), self.sign * turn, axes=WHEEL_AXES[self.steering]
        )
        if self.steering == "fixed":
            plan = replace(plan, inputs=np.ascontiguousarray(plan.inputs[:, :1]))
        return plan

    def pose(self, travel: float, steer: float = 0.0) -> Pose:
        """Pose of every body, as of a left wheel, at one travel [m] and steer [m or rad]; raises as `solve`."""
        answer = self.solve(np.array([travel]), np.array([steer]))
        bodies = self.linkage.bodies
        return Pose(
            heave=travel,
            roll=0.0,
            steer=steer,
            rotation={body.name: answer.rotation[0, k] for k, body in enumerate(bodies)},
            origin={body.name: answer.position[0, k] for k, body in enumerate(bodies)},
            stock={body.name: body.at for body in bodies},
        )
