"""Where a rigid axle goes over heave and roll: the linkage computes it, heights, travel and motion read it."""

from __future__ import annotations

from dataclasses import dataclass

from tussock.mechanics.arrays import Floats


@dataclass(frozen=True, kw_only=True)
class AxleMap:
    """Pose and lengths of one rigid axle on a heave-roll grid, relative to the body, steering held.

    Axes are ISO 8855 in the body, origin on the ground under the middle of the front axle at kerb height.

    Attributes
    ----------
    heave : array (nh,)
        Height of the axle centre above its design height, bump positive [m]; uniform, rising.
    roll : array (nr,)
        Roll of the axle about the body's x axis, left wheel up positive [rad]; uniform, rising.
    centre_x, centre_y : array (nh, nr)
        Position of the axle centre in body axes [m].
    centre_z0 : float
        Height of the axle centre at zero heave [m]; at any node the height is ``centre_z0 + heave``.
    pitch, yaw : array (nh, nr)
        Axle attitude, R = Rz(yaw) Ry(pitch) Rx(roll) [rad], relative to design.
    spring, damper, stop : array (nh, nr, 2)
        Length between the seats of spring, damper and bump stop, left and right [m].
    steer : array (nh, nr, 2)
        Steer of the road wheels relative to the axle given by the steering linkage, hand wheel held, left positive
        [rad]; zero on an axle that does not steer.
    design_x : float
        Fore-aft position of the axle centre in the stock pose [m]; its height there is `centre_z0`, its y is 0.
    energy : array (nh, nr)
        Elastic energy of the bushes above its value at design [J].
    track : float
        Distance between the wheel centres [m].
    """

    heave: Floats
    roll: Floats
    centre_x: Floats
    centre_y: Floats
    centre_z0: float
    design_x: float
    pitch: Floats
    yaw: Floats
    spring: Floats
    damper: Floats
    stop: Floats
    steer: Floats
    energy: Floats
    track: float
