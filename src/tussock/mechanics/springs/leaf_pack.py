"""A leaf pack on its axle as one spring: load, rate, energy and stress of every leaf at a height, one or two stages."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.springs.curve import require_length
from tussock.mechanics.springs.leaf import LeafSpring, TwoStageLeaf

_MOST_SHARE = 0.25  # of the span: beyond it the beam formulas say little


@dataclass(frozen=True, kw_only=True, slots=True)
class LeafPack:
    """A leaf spring with its free height, a helper pack if there is one, and the friction between its leaves.

    Parameters
    ----------
    main : LeafSpring
        The pack that always carries.
    free_height : float
        Height of the line between the eyes over the seat without load (free camber) [m]; falls under load, and is
        negative past flat.
    helper : LeafSpring, optional
        The pack that comes in under load.
    contact : float
        Deflection from free at which the helper begins to carry [m].
    blend : float
        Deflection over which it comes in [m]; 0 for a sharp knee.
    friction : float
        Half the distance between the loading and the unloading branch [N].

    Raises
    ------
    DomainError
        A length or friction that cannot be.

    Notes
    -----
    A leaf spring cannot come loose: drawn above its free height it pulls, with the rate of the main pack as long as
    its clips hold it together. Stress from nip and from clamping is not in the figures.

    Examples
    --------
    >>> main = LeafSpring(thicknesses=(0.007,) * 3, width=0.06, front_length=0.6, rear_length=0.65)
    >>> helper = LeafSpring(thicknesses=(0.01,), width=0.06, front_length=0.5, rear_length=0.5)
    >>> pack = LeafPack(main=main, free_height=0.12, helper=helper, contact=0.06)
    >>> round(pack.rate_at(0.1) / 1e3, 1), round(pack.rate_at(0.0) / 1e3, 1)
    (21.1, 70.6)
    """

    main: LeafSpring
    free_height: float
    helper: LeafSpring | None = None
    contact: float = 0.0
    blend: float = 0.0
    friction: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a pack that cannot be."""
        if not math.isfinite(self.free_height):
            raise DomainError("leaf pack: the free height is not a number")
        if not (self.contact >= 0.0 and self.blend >= 0.0 and self.friction >= 0.0):
            raise DomainError(
                f"leaf pack: contact at {self.contact * 1e3:g} mm, blend {self.blend * 1e3:g} mm, friction "
                f"{self.friction:g} N; none of them may be negative"
            )

    @property
    def free_length(self) -> float:
        """Height of the eyes over the seat without load [m]."""
        return self.free_height

    @property
    def most_deflection(self) -> float:
        """Deflection beyond which the beam formulas say little: a quarter of the span [m]."""
        return _MOST_SHARE * (self.main.front_length + self.main.rear_length)

    @property
    def least_load_length(self) -> float:
        """Lowest height for which a load is given [m]."""
        return self.free_height - self.most_deflection

    @property
    def _stages(self) -> TwoStageLeaf:
        return TwoStageLeaf(
            main_rate=self.main.rate,
            helper_rate=self.helper.rate if self.helper is not None else 0.0,
            contact=self.contact,
            blend=self.blend,
        )

    def _deflection(self, height: float) -> float:
        require_length(height, self.least_load_length, "leaf pack")
        return self.free_height - height

    def load_at(self, length: float) -> float:
        """Return the load at a height, friction apart [N]; negative above the free height."""
        return float(self._stages.force(np.array(self._deflection(length))))

    def rate_at(self, length: float) -> float:
        """Return the rate at a height [N/m]."""
        return float(self._stages.rate(np.array(self._deflection(length))))

    def energy_at(self, length: float) -> float:
        """Return the work stored from free to a height [J]."""
        x = self._deflection(length)
        over = max(x - self.contact, 0.0)
        helper = self.helper.rate if self.helper is not None else 0.0
        if self.blend > 0.0:
            inside, past = min(over, self.blend), max(over - self.blend, 0.0)
            helped = inside**3 / (6.0 * self.blend) + past * 0.5 * self.blend + 0.5 * past**2
        else:
            helped = 0.5 * over**2
        return 0.5 * self.main.rate * x**2 + helper * helped

    def leaf_stresses(self, length: float) -> tuple[Floats, Floats]:
        """Return the bending stress in every leaf of the main and of the helper pack at a height [Pa]."""
        x = self._deflection(length)
        carried = self.main.rate * x
        main = self.main.stresses(carried)
        helper = self.helper.stresses(self.load_at(length) - carried) if self.helper is not None else np.empty(0)
        return main, helper

    def stress_at(self, length: float) -> float:
        """Return the greatest bending stress of any leaf at a height [Pa]."""
        return float(max(np.max(np.abs(s)) for s in self.leaf_stresses(length) if s.size))
