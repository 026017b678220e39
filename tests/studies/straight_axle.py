"""An axle that moves as drawn: straight up and down, or turning about its middle; every length known in closed form."""

from __future__ import annotations

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap
from tussock.studies.limiters import AxlePath

HEIGHT, X = 0.4, 0.1  # of the axle centre at zero heave; its fore-aft place [m]
HEAVE = np.linspace(-0.2, 0.2, 81)


def straight(
    roll: float = 0.0, *, side_shift: float = 0.0, pitch: float = 0.0, spring: float = 0.3, damper: float = 0.5
) -> AxlePath:
    """Return a path in pure heave at one roll; sideways motion `side_shift` and pitch per metre of heave.

    Spring, damper and stop stand upright 0.5 m left and right: each is shorter by the heave, plus or minus
    0.5 tan(roll).
    """
    rolls = np.array([roll])
    shape = (HEAVE.size, 1)
    zero: Floats = np.zeros(shape)
    side = 0.5 * np.tan(roll) * np.array([1.0, -1.0])

    def lengths(stood: float) -> Floats:
        return stood - HEAVE[:, None, None] - side[None, None, :]

    return AxlePath(
        AxleMap.of_rigid(
            heave=HEAVE,
            roll=rolls,
            centre_x=np.full(shape, X),
            centre_y=side_shift * HEAVE[:, None],
            centre_z0=HEIGHT,
            design_x=X,
            pitch=pitch * HEAVE[:, None],
            yaw=zero,
            spring=lengths(spring),
            damper=lengths(damper),
            stop=lengths(0.14),
            steer=np.zeros((*shape, 2)),
            energy=zero,
            track=1.5,
        ),
        0,
    )


def pitching(per_metre: float) -> AxlePath:
    """Return a path on which the axle pitches in proportion to its heave [rad/m]."""
    return straight(pitch=per_metre)
