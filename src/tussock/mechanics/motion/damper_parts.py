"""A damper as the motion takes it: force over speed, friction, gas, mounts and the ends of its stroke.

Between its mounts stand, in series, what yields under its force (rubber, oil column) and the damper itself: valves and
friction, and beside them at the ends of the stroke a rebound stop (topping out) and a bottoming stop.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.interpolate import PchipInterpolator

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion.spline import curve_cells

RIGID_MOUNT = 1e7  # a mount stiffer than this [N/m] is taken as rigid: the implicit midpoint rule would ring
TOP_OUT_STIFFNESS = 4e5  # of a rebound stop of rubber or plastic [N/m]; common practice, no source
BOTTOM_STIFFNESS = 4e6  # of a rod or piston that meets the bottom of its tube [N/m]; common practice, no source
_NODES = 768


@dataclass(frozen=True, kw_only=True)
class DamperParts:
    """A damper as the motion needs it.

    Attributes
    ----------
    velocity, force : array (n,)
        Hydraulic force over velocity, both rising through zero [m/s], [N].
    friction, gas : float
        Coulomb friction and gas force [N].
    mount, oil : float
        Stiffness of its mounts and of its oil column, in series [N/m]; 0 for what does not yield, and both together
        above 1e7 count as rigid.
    mount_damping : float
        [N s/m].
    open_length, closed_length : float
        Between the mounts, where the rebound stop and the bottoming stop are met [m]; endless stroke unless given.
    top_out_stiffness, bottom_stiffness : float
        Of those stops, from where they are met on [N/m].
    """

    velocity: Floats
    force: Floats
    friction: float = 0.0
    gas: float = 0.0
    mount: float = 0.0
    oil: float = 0.0
    mount_damping: float = 100.0
    open_length: float = math.inf
    closed_length: float = -math.inf
    top_out_stiffness: float = TOP_OUT_STIFFNESS
    bottom_stiffness: float = BOTTOM_STIFFNESS

    def __post_init__(self) -> None:
        """Refuse a force that falls: it has no inverse and would drive the wheel; and ends that are none."""
        if np.any(np.diff(self.velocity) <= 0.0) or np.any(np.diff(self.force) < 0.0):
            raise DomainError("damper: velocity and force must rise together")
        if min(self.friction, self.mount, self.oil) < 0.0:
            raise DomainError("damper: friction, mount stiffness and that of the oil cannot be negative")
        if not self.closed_length < self.open_length:
            raise DomainError(
                f"damper: it is {1e3 * self.open_length:g} mm long when open and {1e3 * self.closed_length:g} mm when "
                "closed; it must be longer open than closed"
            )
        for what, rate in (("rebound", self.top_out_stiffness), ("bottoming", self.bottom_stiffness)):
            if not 0.0 < rate <= RIGID_MOUNT:
                raise DomainError(
                    f"damper: its {what} stop has {1e-3 * rate:g} N/mm; it must lie above 0, at most "
                    f"{1e-3 * RIGID_MOUNT:g} N/mm"
                )

    @property
    def yields(self) -> float:
        """Stiffness of mounts and oil column in series [N/m]; 0 where neither yields."""
        give = sum(1.0 / one for one in (self.mount, self.oil) if one > 0.0)
        return 1.0 / give if give >= 1.0 / RIGID_MOUNT else 0.0

    @property
    def rigid(self) -> bool:
        """Whether mounts and oil count as rigid."""
        return self.yields == 0.0

    @property
    def ends(self) -> tuple[float, float]:
        """Stiffness of rebound stop and bottoming stop as they stand in series with all that yields [N/m].

        The stops do not load the oil column: in series with it they would have to be so much stiffer for the same force
        at the same length, as far as that can be.
        """
        give = 1.0 / self.oil if self.oil > 0.0 and not self.rigid else 0.0
        top, bottom = (
            1.0 / max(1.0 / stop - give, 1.0 / RIGID_MOUNT) for stop in (self.top_out_stiffness, self.bottom_stiffness)
        )
        return top, bottom

    def inverse(self, lag: float) -> tuple[Floats, float, float]:
        """Return the cells of the inverse of v -> F(v) + ca v over the force variable, the first and the spacing.

        Parameters
        ----------
        lag : float
            Half the time step [s]: ca is the mount's damping and what its stiffness adds within it.
        """
        ca = None if self.rigid else self.mount_damping + lag * self.yields
        return _inverse_cells(tuple(self.velocity.tolist()), tuple(self.force.tolist()), ca)


# A vehicle is packed again for every load it stands under, mostly with the same dampers: their tables are kept.


@lru_cache(maxsize=256)
def _inverse_cells(v: tuple[float, ...], f: tuple[float, ...], ca: float | None) -> tuple[Floats, float, float]:
    """Return what `DamperParts.inverse` does, `ca` None for a rigid mount.

    A rigid mount is the same series of mount damping and damper, with the damper's velocity taken back by what the
    mount yields, so that the force over the whole velocity is exactly the curve's.
    """
    forward = PchipInterpolator(v, f)
    if ca is None:
        whole = np.linspace(v[0], v[-1], _NODES)
        back = whole - forward(whole) / RIGID_MOUNT
        slope = (1.0 - forward.derivative()(whole) / RIGID_MOUNT) / RIGID_MOUNT
        low, spacing = float(RIGID_MOUNT * whole[0]), float(RIGID_MOUNT * (whole[1] - whole[0]))
    else:
        fine = np.unique(np.round(np.concatenate([np.linspace(v[0], v[-1], 4001), v]), 9))
        y = forward(fine) + ca * fine
        even = np.linspace(float(y[0]), float(y[-1]), _NODES)
        back = PchipInterpolator(y, fine)(even)
        slope = 1.0 / (forward.derivative()(back) + ca)
        low, spacing = float(even[0]), float(even[1] - even[0])
    made = curve_cells(back, slope, spacing)
    made.flags.writeable = False
    return made, low, spacing
