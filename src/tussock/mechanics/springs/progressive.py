"""Springs whose coils close one after another: the rate rises in steps, or smoothly for a tapering pitch.

References
----------
.. [1] Wahl, Mechanical Springs: closure coil by coil.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.springs.wire import require_index


@dataclass(frozen=True, kw_only=True, slots=True)
class RateStep:
    """One straight piece of a progressive spring: from which load on, how many turns work, at what rate.

    Attributes
    ----------
    force : float
        Load at which the piece begins [N].
    deflection : float
        Deflection there [m].
    open_turns : int
        Turns that still work above that load.
    rate : float
        Rate above that load [N/m]; infinite when solid.
    """

    force: float
    deflection: float
    open_turns: int
    rate: float


@dataclass(frozen=True, kw_only=True, eq=False)
class ProgressiveCoil:
    """A spring whose coils close one after another: one rate and one clear gap for each turn.

    Parameters
    ----------
    turn_rates : array (n,)
        Rate of each single turn, G d^4 / (8 D^3) [N/m].
    gaps : array (n,)
        Clear gap of each turn in the free spring [m].

    Raises
    ------
    DomainError
        If the arrays differ in length, a rate is not positive or a gap is negative.

    References
    ----------
    Coil-by-coil closure as in Wahl, Mechanical Springs [1]_.

    Examples
    --------
    >>> spring = ProgressiveCoil.from_turns(wire=0.013, mean_diameters=[0.115] * 7,
    ...                                     gaps=[4e-3, 4e-3, 8e-3, 12e-3, 20e-3, 20e-3, 20e-3])
    >>> [(round(s.force), s.open_turns) for s in spring.steps()]
    [(0, 7), (737, 5), (1474, 4), (2211, 3), (3685, 0)]
    """

    turn_rates: Floats
    gaps: Floats

    def __post_init__(self) -> None:
        """Refuse turns that cannot be."""
        for field in ("turn_rates", "gaps"):
            # a private read-only copy: a frozen spring must not change through the caller's array
            own = np.array(getattr(self, field), dtype=np.float64)
            own.setflags(write=False)
            object.__setattr__(self, field, own)
        if self.turn_rates.ndim != 1 or self.turn_rates.shape != self.gaps.shape or self.turn_rates.size == 0:
            raise DomainError("progressive coil: as many turn rates as gaps are needed, and at least one turn")
        if not (np.all(np.isfinite(self.turn_rates)) and np.all(np.isfinite(self.gaps))):
            raise DomainError("progressive coil: a turn rate or gap is not a number")
        if np.any(self.turn_rates <= 0.0) or np.any(self.gaps < 0.0):
            raise DomainError("progressive coil: turn rates must be positive and gaps not negative")

    @classmethod
    def from_turns(
        cls,
        *,
        wire: float | Sequence[float],
        mean_diameters: Sequence[float],
        gaps: Sequence[float],
        shear_modulus: float = 78.5e9,
    ) -> ProgressiveCoil:
        """Build from the geometry of each turn.

        Parameters
        ----------
        wire : float or sequence (n,)
            Wire diameter, of all turns or of each [m].
        mean_diameters : sequence (n,)
            Mean coil diameter of each turn [m].
        gaps : sequence (n,)
            Clear gap of each turn in the free spring, pitch less wire [m].
        shear_modulus : float
            [Pa].
        """
        mean = np.asarray(mean_diameters, dtype=float)
        d = np.broadcast_to(np.asarray(wire, dtype=float), mean.shape)
        for one, other in zip(mean, d, strict=True):
            if not other > 0.0:
                raise DomainError(f"progressive coil: wire diameter is {other:g} m; it must be positive")
            require_index(float(one / other))
        return cls(turn_rates=shear_modulus * d**4 / (8.0 * mean**3), gaps=np.asarray(gaps, dtype=float))

    @property
    def closing_forces(self) -> Floats:
        """Force at which each turn closes [N]."""
        return self.turn_rates * self.gaps

    @property
    def solid_force(self) -> float:
        """Force at which the last turn closes [N]."""
        return float(np.max(self.closing_forces))

    @property
    def solid_deflection(self) -> float:
        """Deflection with all turns closed: the sum of the gaps [m]."""
        return float(np.sum(self.gaps))

    def deflection(self, force: float) -> float:
        """Return the deflection under `force` >= 0 [m]; DomainError for a pull."""
        if force < 0.0:
            raise DomainError(f"progressive coil: {force:.0f} N would pull; the spring only pushes")
        return float(np.sum(np.minimum(force / self.turn_rates, self.gaps)))

    def force(self, deflection: float) -> float:
        """Return the force at a deflection [m], in [N]; zero when loose, DomainError past solid."""
        if deflection <= 0.0:
            return 0.0
        if deflection > self.solid_deflection * (1.0 + 1e-12):
            raise DomainError(
                f"progressive coil: {deflection * 1e3:.1f} mm is past solid, {self.solid_deflection * 1e3:.1f} mm"
            )
        steps = self.steps()
        return float(np.interp(deflection, [s.deflection for s in steps], [s.force for s in steps]))

    def rate(self, force: float) -> float:
        """Return the rate just above `force` [N/m]; infinite when solid."""
        open_turns = self.closing_forces > force * (1.0 + 1e-12)
        if not np.any(open_turns):
            return math.inf
        return float(1.0 / np.sum(1.0 / self.turn_rates[open_turns]))

    def steps(self) -> tuple[RateStep, ...]:
        """Return the straight pieces of the load-deflection line in rising load, the last one solid."""
        forces = [0.0]
        for closing in np.sort(self.closing_forces):
            if closing > forces[-1] * (1.0 + 1e-9):  # turns of one gap close together
                forces.append(float(closing))
        return tuple(
            RateStep(
                force=f,
                deflection=self.deflection(f),
                open_turns=int(np.count_nonzero(self.closing_forces > f * (1.0 + 1e-9))),
                rate=self.rate(f),
            )
            for f in forces
        )
