"""Where the two wheels of an axle go over heave and roll: the linkage computes it, heights, travel and motion read it.

One contract for every axle, rigid or with independent wheels, so that nobody who reads it asks for the layout:
`AxleMap.of_rigid` makes it from the pose of a rigid axle, `tussock.mechanics.linkage.axle_map` from a solved axle,
`tussock.mechanics.linkage.axle_map_of_wheels` from solved wheels.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal

import numpy as np
from scipy.interpolate import RectBivariateSpline

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats

Side = Literal["left", "right"]
SIDES: tuple[Side, Side] = ("left", "right")
CHASSIS = "chassis"


@dataclass(frozen=True, kw_only=True)
class BodyPath:
    """Where one body of an axle goes.

    Attributes
    ----------
    stock : array (3,)
        Its reference point in the stock pose [m].
    position : array (nh, nr, 3)
        That point at each node [m].
    rotation : array (nh, nr, 3, 3)
        Its attitude since the stock pose.
    """

    stock: Floats
    position: Floats
    rotation: Floats


@dataclass(frozen=True, kw_only=True)
class AxleMap:
    """Two wheels and their springing on a heave-roll grid, relative to the body, steering held.

    Axes are ISO 8855 in the body, origin on the ground under the middle of the front axle at kerb height. A node is
    named by the height of the wheel centres, whatever joins them: the left one stands at
    ``centre_z0 + heave + track / 2 * sin(roll)``, the right one at ``centre_z0 + heave - track / 2 * sin(roll)``. For
    independent wheels heave is thus the mean of their travels and sin(roll) their difference over the track.
    Pairs are left, right.

    Attributes
    ----------
    heave : array (nh,)
        Mean height of the wheel centres above the stock pose, bump positive [m]; uniform, rising.
    roll : array (nr,)
        Roll of the line through the wheel centres about the body's x axis, left wheel up positive [rad]; uniform,
        rising.
    centre_z0 : float
        Height of the wheel centres at zero heave and roll [m].
    design_x : float
        Fore-aft position of the wheel centres in the stock pose [m].
    track : float
        Distance between the wheel centres in the stock pose [m].
    wheel_x, wheel_y : array (nh, nr, 2)
        Position of the wheel centres in body axes [m].
    inclination : array (nh, nr, 2)
        Slope of the wheel's axis against the body's y axis, left end up positive, on either side [rad].
    steer : array (nh, nr, 2)
        Direction of the wheel in plan, left positive [rad]: the yaw of a rigid axle and what the steering linkage adds.
    pitch : array (nh, nr)
        Rotation about the y axis of what takes the torque of drive and brakes (rigid axle: the axle), nose down
        positive [rad]; zero where the body takes it.
    spring : array (nh, nr, 2)
        Length between the seats of the spring [m]; of a torsion bar its angle left to wind up, that is minus the angle
        of its arm [rad], to go with a rate in N m/rad and a twist in the stock pose instead of a free length.
    damper, stop : array (nh, nr, 2)
        Length between the seats of damper and bump stop [m].
    bar : array (nh, nr)
        Twist of the anti-roll bar, left arm up positive [rad], to go with its rate over that angle; on a rigid axle
        whose bar's rate is given over roll, the roll.
    energy : array (nh, nr)
        Elastic energy of what is neither spring, bar nor stop: bushes, leaf springs; from any datum [J].
    reach : pair of float
        Travel of a wheel, down and up, as far as the linkage was solved [m]; beyond it the arrays go on smoothly, so
        that the grid is whole, and whoever moves there must say so.
    bodies : pair of mapping of name to BodyPath
        The bodies on the left and on the right; a rigid axle stands in both.
    carrier : str
        Name of the body that a part sits on unless another is named: "axle" or "upright".
    """

    heave: Floats
    roll: Floats
    centre_z0: float
    design_x: float
    track: float
    wheel_x: Floats
    wheel_y: Floats
    inclination: Floats
    steer: Floats
    pitch: Floats
    spring: Floats
    damper: Floats
    stop: Floats
    bar: Floats
    energy: Floats
    reach: tuple[float, float] = (-np.inf, np.inf)
    bodies: tuple[Mapping[str, BodyPath], Mapping[str, BodyPath]] = field(default_factory=lambda: ({}, {}))
    carrier: str = "axle"

    @cached_property
    def beside(self) -> dict[Hashable, Any]:
        """What is made of the map and kept with it, by a name of whoever makes it."""
        return {}

    def read(self, name: Literal["spring", "damper", "stop"], heave: Floats | float, roll: float) -> Floats:
        """Return a pair of lengths between the nodes, left and right, at heaves (n,) [m] and a roll [rad] (n, 2)."""
        if ("curves", name) not in self.beside:
            pair = getattr(self, name)
            curves = tuple(RectBivariateSpline(self.heave, self.roll, pair[..., side]) for side in (0, 1))
            self.beside["curves", name] = curves
        at = np.atleast_1d(heave)
        return np.stack([curve.ev(at, np.full(at.shape, roll)) for curve in self.beside["curves", name]], axis=-1)

    @property
    def travel(self) -> Floats:
        """Height of each wheel above the stock pose (nh, nr, 2) [m]."""
        lean = 0.5 * self.track * np.sin(self.roll)
        return np.asarray(self.heave[:, None, None] + np.stack([lean, -lean], axis=-1))

    def place(self, point: Floats, side: Side, body: str | None = None) -> Floats:
        """Return where a point goes (nh, nr, 3) [m].

        Parameters
        ----------
        point : array (3,)
            In the stock pose, vehicle axes [m].
        side : {'left', 'right'}
            Side of the body that it sits on; a rigid axle answers alike to both.
        body : str, optional
            Name of that body; `carrier` if not given, "chassis" stays.

        Raises
        ------
        InputError
            If there is no such body.
        """
        at = np.asarray(point, dtype=np.float64)
        if body == CHASSIS:
            return np.broadcast_to(at, (self.heave.size, self.roll.size, 3))
        path = self._body(side, body)
        return np.asarray(path.position + path.rotation @ (at - path.stock))

    def turn(self, direction: Floats, side: Side, body: str | None = None) -> Floats:
        """Return where a direction fixed in a body points (nh, nr, 3); arguments and errors as `place`."""
        if body == CHASSIS:
            return np.broadcast_to(np.asarray(direction, dtype=np.float64), (self.heave.size, self.roll.size, 3))
        return np.asarray(self._body(side, body).rotation @ direction)

    def _body(self, side: Side, body: str | None) -> BodyPath:
        name = self.carrier if body is None else body
        bodies = self.bodies[SIDES.index(side)]
        if name not in bodies:
            raise InputError(f"there is no body '{name}' on the {side}; the bodies are {', '.join(bodies) or 'none'}")
        return bodies[name]

    @classmethod
    def of_rigid(
        cls,
        *,
        heave: Floats,
        roll: Floats,
        centre_x: Floats,
        centre_y: Floats,
        centre_z0: float,
        design_x: float,
        track: float,
        pitch: Floats,
        yaw: Floats,
        steer: Floats,
        spring: Floats,
        damper: Floats,
        stop: Floats,
        energy: Floats,
        spin: Floats | None = None,
        bodies: Mapping[str, BodyPath] | None = None,
    ) -> AxleMap:
        """Return the map of a rigid axle from its pose; fields as above but for these.

        Parameters
        ----------
        centre_x, centre_y : array (nh, nr)
            Position of the axle centre, midway between the wheel centres [m].
        pitch, yaw : array (nh, nr)
            Axle attitude, R = Rz(yaw) Ry(pitch) Rx(roll) [rad], relative to the stock pose.
        steer : array (nh, nr, 2)
            Of the wheels relative to the axle about its own upward axis, by the steering linkage [rad].
        spin : array (nh, nr, 2, 3), optional
            Directions of the wheels' axes, to the left; from `steer` if not given.
        bodies : mapping, optional
            Bodies besides the axle.
        """
        r = np.broadcast_to(roll, pitch.shape)
        cr, sr, cp, sp, cy, sy = np.cos(r), np.sin(r), np.cos(pitch), np.sin(pitch), np.cos(yaw), np.sin(yaw)
        rotation = np.stack(
            [
                np.stack([cy * cp, cy * sp * sr - sy * cr, cy * sp * cr + sy * sr], axis=-1),
                np.stack([sy * cp, sy * sp * sr + cy * cr, sy * sp * cr - cy * sr], axis=-1),
                np.stack([-sp, cp * sr, cp * cr], axis=-1),
            ],
            axis=-2,
        )
        across = rotation[..., 1]
        side = 0.5 * track * np.array([1.0, -1.0])
        if spin is None:
            own = np.stack([-np.sin(steer), np.cos(steer), np.zeros_like(steer)], axis=-1)
            spin = np.einsum("hrij,hrsj->hrsi", rotation, own)
        height = np.broadcast_to(centre_z0 + heave[:, None], pitch.shape)
        axle = BodyPath(
            stock=np.array([design_x, 0.0, centre_z0]),
            position=np.stack([centre_x, centre_y, height], axis=-1),
            rotation=rotation,
        )
        parts = {**(bodies or {}), "axle": axle}
        return cls(
            heave=heave,
            roll=roll,
            centre_z0=centre_z0,
            design_x=design_x,
            track=track,
            wheel_x=centre_x[..., None] + side * across[..., 0:1],
            wheel_y=centre_y[..., None] + side * across[..., 1:2],
            inclination=np.arcsin(spin[..., 2]),
            steer=np.arctan2(-spin[..., 0], spin[..., 1]),
            pitch=pitch,
            spring=spring,
            damper=damper,
            stop=stop,
            bar=np.array(r),
            energy=energy,
            bodies=(parts, parts),
        )
