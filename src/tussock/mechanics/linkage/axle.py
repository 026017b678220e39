"""A rigid axle of any layout, ready to be solved and posed over heave and roll."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from tussock.errors import InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.model import CHASSIS, Linkage, Row
from tussock.mechanics.linkage.solution import Solution
from tussock.mechanics.linkage.solver import plan_grid, solve_plan


@dataclass(frozen=True, kw_only=True)
class BushRates:
    """Rates of a bush.

    Attributes
    ----------
    radial, axial : float
        Stiffness across and along its axis [N/m].
    conical, torsional : float
        Stiffness of tilting and of twisting about its axis [N m/rad].
    axis : tuple of 3 floats
        Direction of its axis in chassis axes, left side; across the vehicle if not given [-].
    progressive : mapping of 'radial', 'axial', 'conical', 'torsional' to (growth, gap)
        Further load ``growth max(|deflection| - gap, 0)^2`` of each such row [N/m^2 and m, N m/rad^2 and rad]; across
        the axis the two radial rows grow each for itself.
    """

    radial: float
    axial: float
    conical: float
    torsional: float
    axis: tuple[float, float, float] = (0.0, 1.0, 0.0)
    progressive: Mapping[str, tuple[float, float]] = field(default_factory=dict)

    def laws(self, bush: str) -> tuple[Row, Row, Row, Row, Row, Row]:
        """Laws of its six rows, the axis being the third of its frame; raises InputError for a rate not above zero."""
        words = ("radial", "axial", "conical", "torsional")
        for word in words:
            value = getattr(self, word)
            if not (np.isfinite(value) and value > 0.0):
                raise InputError(f"the {word} rate of bush '{bush}' is {value}; it must be above zero")
        for word, (growth, gap) in self.progressive.items():
            if word not in words or not (np.isfinite(growth) and growth >= 0.0 and np.isfinite(gap) and gap >= 0.0):
                raise InputError(
                    f"the progressive law of bush '{bush}' is {word}: growth {growth}, gap {gap}; it needs one of "
                    f"{', '.join(words)} and two numbers that are not negative"
                )

        def law(word: str) -> Row:
            growth, gap = self.progressive.get(word, (0.0, 0.0))
            return Row(rate=getattr(self, word), progressive=growth, gap=gap)

        radial, axial, conical, torsional = (law(word) for word in words)
        return radial, radial, axial, conical, conical, torsional


@dataclass(frozen=True, kw_only=True)
class Attachment:
    """Two points whose distance matters: seats of a spring or damper, ends of a hose.

    ``chassis`` and ``at`` ``(1 or 2, 3)`` hold the points of the left and right one in the stock pose [m]; ``bodies``
    names the body under each ``at``.
    """

    name: str
    chassis: Floats
    at: Floats
    bodies: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Pose:
    """Where every body of an axle is; `place` moves points of the stock pose with a body.

    Attributes
    ----------
    heave, roll, steer : float
        Inputs [m], [rad], [rad].
    rotation, origin : dict of array
        Attitude (3, 3) and reference point (3,) [m] of each body.
    stock : dict of array
        Reference point of each body in the stock pose [m].
    """

    heave: float
    roll: float
    steer: float
    rotation: Mapping[str, Floats]
    origin: Mapping[str, Floats]
    stock: Mapping[str, Floats]

    def place(self, body: str, points: Floats) -> Floats:
        """Move points (..., 3) [m], given in the stock pose, with a body; the chassis stays."""
        if body == CHASSIS:
            return np.asarray(points, dtype=np.float64)
        if body not in self.rotation:
            raise InputError(f"there is no body '{body}'; the bodies are {', '.join(self.rotation)}")
        return np.asarray(self.origin[body] + (points - self.stock[body]) @ self.rotation[body].T)


@dataclass(frozen=True, kw_only=True)
class Axle:
    """A rigid axle ready to be swept.

    Attributes
    ----------
    name, layout : str
    linkage : Linkage
    home : Solution
        Equilibrium at zero heave, roll and steer, changed parts fitted.
    centre : array (3,)
        Axle centre in the stock pose [m].
    wheel_centres : array (2, 3)
        Left and right in the stock pose [m].
    wheel_radius, track : float
        [m].
    steers, moves_steering : bool
        Whether it has knuckles, and whether the pitman arm is a third input.
    pinion : {'forward', 'rearward'}
        Where the pinion points from the axle.
    king_pin : array (2, 3) or None
        Directions of the king pins, upward, stock pose, left and right.
    attachments : dict of Attachment
    leaf_friction : float
        Half-width of the friction band of one leaf spring [N]; 0 without.
    """

    name: str
    layout: str
    linkage: Linkage
    home: Solution
    centre: Floats
    wheel_centres: Floats
    wheel_radius: float
    track: float
    steers: bool
    moves_steering: bool
    pinion: Literal["forward", "rearward"]
    king_pin: Floats | None
    attachments: Mapping[str, Attachment]
    leaf_friction: float = 0.0

    @property
    def zero(self) -> Floats:
        """Prescribed coordinates at zero heave, roll and steer (nu,)."""
        return np.array([self.centre[2], 0.0, 0.0] if self.moves_steering else [self.centre[2], 0.0])

    @property
    def wheel_bodies(self) -> tuple[str, str]:
        """Bodies that carry the left and the right wheel."""
        return ("knuckle_left", "knuckle_right") if self.steers else ("axle", "axle")

    def solve(self, heave: Floats, roll: Floats, steer: float = 0.0, *, loaded: tuple[str, ...] = ()) -> Solution:
        """Equilibria over a grid, ``nh * nr`` rows, roll running fastest.

        Parameters
        ----------
        heave, roll : array (nh,), (nr,)
            Axle heave [m] and roll [rad] relative to the body, bump and left wheel up positive.
        steer : float, optional
            Angle of the pitman arm from straight ahead [rad].
        loaded : tuple of body names, optional
            Bodies whose motion by unit loads is wanted: `Solution.give`.

        Returns
        -------
        Solution

        Raises
        ------
        SolverError
            A node that could not be solved, with its place and the reason.
        """
        plan = plan_grid(np.atleast_1d(heave), np.atleast_1d(roll), self._extra(steer))
        try:
            answer = solve_plan(self.linkage, plan, self.home, self.zero, loaded=loaded)
        except SolverError as error:
            raise type(error)(f"{self.name}: {error}") from None
        return answer.take(plan.wanted.ravel())

    def pose(self, heave: float, roll: float, steer: float = 0.0) -> Pose:
        """Pose of every body at one heave [m], roll [rad] and pitman angle [rad]; raises as `solve`."""
        answer = self.solve(np.array([heave]), np.array([roll]), steer)
        bodies = self.linkage.bodies
        return Pose(
            heave=heave,
            roll=roll,
            steer=steer,
            rotation={body.name: answer.rotation[0, k] for k, body in enumerate(bodies)},
            origin={body.name: answer.position[0, k] for k, body in enumerate(bodies)},
            stock={body.name: body.at for body in bodies},
        )

    def _extra(self, steer: float) -> tuple[float, ...]:
        if self.moves_steering:
            return (float(steer),)
        if steer != 0.0:
            raise InputError(
                f"{self.name}: a steer of {steer:.4f} rad was asked, but the hardpoint 'pitman_shaft' is not given, so "
                "the pitman arm cannot turn"
            )
        return ()


def attachment_lengths(axle: Axle, s: Solution, name: str) -> list[tuple[Floats, Floats]]:
    """Length and slopes of each of the parts of one attachment."""
    part = axle.attachments[name]
    return [
        s.length(CHASSIS, chassis, body, at)
        for chassis, at, body in zip(part.chassis, part.at, part.bodies, strict=True)
    ]
