"""A ladder frame that twists: front and rear body roll joined by a torsional spring.

The body is its mean: its axes, its centre and its inertia stay those of the rigid one, and the twist turns its front
end by `1 - front_share` and its rear end by `-front_share` of itself about the forward axis through the sprung centre
of mass. `front_share` is the part of the body's roll inertia that goes with the front end; with it the twist moves no
roll momentum of the body's own, which is the shape of the free twist of two lumps. In between the turn goes straight
over the length; beyond the axles it is that at the axle. Two assumptions are in that: every slice of the body has its
centre on that axis, and its roll inertia stands in two lumps over the axles.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats

FASTEST = 150.0  # of the twist of the body alone [Hz]: above it the frame is rigid to 1 ms, and the steps would ring


@dataclass(frozen=True, kw_only=True)
class Frame:
    """How a frame twists.

    Attributes
    ----------
    stiffness : float
        Torsional stiffness between the axles, body mounts and body included [N m/rad].
    damping : float
        Damping ratio of the twist of the body alone [-], 0 to 1.
    front_share : float
        Share of the body's roll inertia that goes with the front end [-], 0.05 to 0.95.
    """

    stiffness: float
    damping: float
    front_share: float

    def __post_init__(self) -> None:
        """Refuse a frame that cannot be."""
        if not (math.isfinite(self.stiffness) and self.stiffness > 0.0):
            raise DomainError(f"frame: its torsional stiffness is {self.stiffness:g} N m/rad; it must be above 0")
        if not 0.0 <= self.damping <= 1.0:
            raise DomainError(f"frame: a damping ratio of {self.damping:g}; 0 to 1 is right")
        if not 0.05 <= self.front_share <= 0.95:
            raise DomainError(f"frame: {self.front_share:g} of the roll inertia in front; 0.05 to 0.95 is right")

    @property
    def turns(self) -> tuple[float, float]:
        """By how much front and rear end turn with the twist [-], left side up positive for a front that rolls so."""
        return 1.0 - self.front_share, -self.front_share

    def inertia(self, roll_inertia: float) -> float:
        """Return the body's inertia against the twist from that against roll [kg m^2]."""
        return self.front_share * (1.0 - self.front_share) * roll_inertia

    def frequency(self, roll_inertia: float) -> float:
        """Return the natural frequency of the twist of the body alone [Hz]."""
        return math.sqrt(self.stiffness / self.inertia(roll_inertia)) / (2.0 * math.pi)

    def packed(self, roll_inertia: float) -> Floats:
        """Return what the kernels take (5,); see `kernels`.

        Raises
        ------
        DomainError
            For a frame too stiff for the steps.
        """
        inertia = self.inertia(roll_inertia)
        if self.frequency(roll_inertia) > FASTEST:
            most = inertia * (2.0 * math.pi * FASTEST) ** 2
            raise DomainError(
                f"frame: {self.stiffness * math.pi / 180.0:.3g} N m/deg twist the body at "
                f"{self.frequency(roll_inertia):.0f} Hz, which is rigid; leave the frame out, or write at most "
                f"{most * math.pi / 180.0:.3g} N m/deg"
            )
        damping = 2.0 * self.damping * math.sqrt(self.stiffness * inertia)
        return np.array([self.stiffness, damping, inertia, *self.turns])


@dataclass(frozen=True, kw_only=True)
class Shape:
    """By how much the body's slices turn with the twist.

    Attributes
    ----------
    front, rear : float
        Places of the axles ahead of the sprung centre of mass [m].
    turns : pair of float
        Of the frame's ends.
    """

    front: float
    rear: float
    turns: tuple[float, float]

    def at(self, ahead: float) -> float:
        """Return by how much the slice there turns [-]."""
        share = min(max((ahead - self.rear) / (self.front - self.rear), 0.0), 1.0)
        return self.turns[1] + share * (self.turns[0] - self.turns[1])
