"""The tyre: vertical spring with lift-off, side force by a brush with relaxation, cornering stiffness over load.

Inflation pressure [2]_: the vertical stiffness is a straight line over pressure. The deflection at a load gives the
length of the contact, as of a disc pressed flat; the brush's side stiffness goes with the square of that length, the
carcass gives sideways as before. Rolling damping and friction stay.

References
----------
.. [1] Pacejka, Tire and Vehicle Dynamics, 3rd ed. 2012, appendix 3: cornering stiffness over load, sine of a double
   arctangent with PKY2 = 1.715 and, for the shape used here, PKY4 = 2 (2.0005 in the set).
.. [2] Besselink, Schmeitz, Pacejka, An improved Magic Formula/Swift tyre model that can handle inflation pressure
   changes, Vehicle System Dynamics 48 (2010): vertical stiffness times 1 + PFZ1 dp. PFZ1 = 0.7 from memory; workshops
   say 6 to 9 % more stiffness for 10 % more pressure (common practice, no source).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from tussock.errors import DomainError

PRESSURE_SHARE = 0.7  # of the vertical stiffness that the air carries; the rest is the carcass [-]
PEAK_LOAD = 1.715  # PKY2: load of greatest cornering stiffness over the reference load [-]


@dataclass(frozen=True, kw_only=True, slots=True)
class Tyre:
    """One tyre at its pressure.

    Attributes
    ----------
    vertical_stiffness, vertical_damping : float
        [N/m], [N s/m].
    free_radius : float
        [m].
    cornering_stiffness, reference_load : float
        Cornering stiffness [N/rad] at a load [N].
    friction : float
        Side force over load at saturation [-].
    relaxation_length : float
        At the reference load [m]; a third of it stays at no load.
    camber_gain : float
        Camber stiffness over cornering stiffness [-].
    carcass_time : float
        Carcass damping over its stiffness [s].
    toe : float
        Deflection over which contact builds up [m].
    contact_length : float
        Length of the contact patch that averages the road [m].
    pneumatic_trail : float or None
        Distance of the side force behind the contact's middle at little slip and the reference load [m]; a sixth of the
        contact length, as on a brush with parabolic pressure, unless given.
    inflation : float
        Pressure over that at which the record gives the tyre's stiffness [-].
    """

    vertical_stiffness: float
    vertical_damping: float
    free_radius: float
    cornering_stiffness: float
    reference_load: float
    friction: float
    relaxation_length: float
    camber_gain: float = 0.05
    carcass_time: float = 0.004
    toe: float = 0.002
    contact_length: float = 0.15
    pneumatic_trail: float | None = None
    inflation: float = 1.0

    def __post_init__(self) -> None:
        """Refuse a tyre that cannot be."""
        for name in (
            "vertical_stiffness",
            "free_radius",
            "cornering_stiffness",
            "reference_load",
            "friction",
            "relaxation_length",
            "toe",
            "inflation",
        ):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise DomainError(f"tyre: {name} is {value:g}; it must be positive")
        for name in ("vertical_damping", "camber_gain", "carcass_time", "contact_length", "pneumatic_trail"):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and value >= 0.0):
                raise DomainError(f"tyre: {name} is {value:g}; it cannot be negative")

    def inflated(self, ratio: float) -> Tyre:
        """Return the tyre at a pressure over its present one, above 0; `ratio` 1 is the very same tyre [2]_.

        Meant for 0.5 to 1.6 times the pressure at which the stiffness was given: below, the tread buckles and the rim
        is near, which the straight line does not know.
        """
        if ratio == 1.0:
            return self
        if not (math.isfinite(ratio) and ratio > 0.0):
            raise DomainError(f"tyre: a pressure {ratio:g} times the present one; it must be above 0")
        now, then = (1.0 + PRESSURE_SHARE * (p - 1.0) for p in (self.inflation, self.inflation * ratio))
        deflects = now / then  # at the same load, against before
        longer = math.sqrt(deflects)
        return replace(
            self,
            vertical_stiffness=self.vertical_stiffness / deflects,
            cornering_stiffness=self.cornering_stiffness * deflects,
            relaxation_length=self.relaxation_length * deflects,
            contact_length=self.contact_length * longer,
            pneumatic_trail=None if self.pneumatic_trail is None else self.pneumatic_trail * longer,
            inflation=self.inflation * ratio,
        )

    @property
    def cornering_load(self) -> float:
        """Load at which the cornering stiffness is greatest [N]."""
        return PEAK_LOAD * self.reference_load

    @property
    def cornering_gain(self) -> float:
        """Cornering stiffness over load as the load goes to nothing [1/rad]."""
        ratio = 1.0 / PEAK_LOAD
        return self.cornering_stiffness / self.reference_load * (1.0 + ratio * ratio)

    def cornering(self, load: float) -> float:
        """Return the cornering stiffness at a load [N/rad] [1]_."""
        ratio = load / self.cornering_load
        return self.cornering_gain * load / (1.0 + ratio * ratio)

    @property
    def half_contact(self) -> float:
        """Half the length of the contact patch at the reference load [m], three times the trail.

        Half of it stays, the rest goes with the load: a straight line for the root that follows from the deflection.
        """
        return 0.5 * self.contact_length if self.pneumatic_trail is None else 3.0 * self.pneumatic_trail

    @property
    def relaxation_base(self) -> float:
        """Relaxation length at no load [m]: a third, so that lift-off is not stiff."""
        return self.relaxation_length / 3.0

    @property
    def relaxation_gain(self) -> float:
        """Growth of the relaxation length with load [m/N]."""
        return (self.relaxation_length - self.relaxation_base) / self.reference_load

    def deflection(self, load: float) -> float:
        """Return the deflection under a static load >= 0 [m]."""
        d0, k = self.toe, self.vertical_stiffness
        if load <= 0.5 * k * d0:
            return math.sqrt(max(2.0 * load * d0 / k, 0.0))
        return load / k + 0.5 * d0

    def side_force(self, slip: float, load: float) -> float:
        """Return the steady side force of the brush at a slip angle's tangent and a load [N]."""
        if load <= 0.0:
            return 0.0
        e = min(max(slip * self.cornering(load) / (3.0 * self.friction * load), -1.0), 1.0)
        return self.friction * load * e * (3.0 - 3.0 * abs(e) + e * e)

    def aligning_moment(self, slip: float, load: float) -> float:
        """Return the steady aligning moment of the brush, which turns the wheel back [N m]; arguments as `side_force`.

        The parabolic-pressure brush of [1]_, chapter 3: -mu N a e (1 - |e|)^3 with half the contact length a.
        """
        if load <= 0.0:
            return 0.0
        e = min(max(slip * self.cornering(load) / (3.0 * self.friction * load), -1.0), 1.0)
        half = 0.5 * self.half_contact * (1.0 + load / self.reference_load)
        return -self.friction * load * half * e * (1.0 - abs(e)) ** 3
