"""One damper as drawn: body, oil, gas, and its valves as ordered lists of discs; data only, see `assembly`."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

from tussock.errors import DomainError
from tussock.mechanics.dampers.hydraulics import Hose, Oil
from tussock.mechanics.dampers.hydraulics.valves import Sense
from tussock.mechanics.dampers.stack import Disc, Washer
from tussock.mechanics.dampers.stack.parts import LEAST_OVERHANG

Architecture: TypeAlias = Literal["twin_tube", "mono_tube"]
Place: TypeAlias = Literal["piston", "foot", "reservoir"]


def _mm(value: float) -> str:
    return f"{value * 1e3:g} mm"


def _above(what: str, value: float, example: str) -> None:
    if not (math.isfinite(value) and value > 0.0):
        raise DomainError(f"{what} is {_mm(value)}; it must be above 0, such as {example}")


@dataclass(frozen=True, kw_only=True)
class Ports:
    """Equal round holes on a circle that lead oil under the discs.

    Parameters
    ----------
    count : int
        Number of holes.
    diameter : float
        Of each hole; of a kidney, that of the round hole of equal area [m].
    length : float
        Along the flow [m]; above 0.
    circle : float
        Radius of the circle on which their middles lie [m].
    recess : pair of float, optional
        Inner and outer radius of a groove that spreads the pressure all round [m]; without it the pressure acts over
        the holes only, in the ring that they touch.

    Raises
    ------
    DomainError
        If a number cannot be, or the holes overlap.

    Examples
    --------
    >>> ports = Ports(count=4, diameter=4e-3, length=8e-3, circle=9.5e-3)
    >>> round(ports.area * 1e6, 1), [round(x * 1e3, 1) for x in ports.ring], round(ports.share, 2)
    (50.3, [7.5, 11.5], 0.21)
    """

    count: int
    diameter: float
    length: float
    circle: float
    recess: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        """Refuse holes that cannot be drilled."""
        if self.count < 1:
            raise DomainError(f"{self.count} ports; at least 1 is needed")
        _above("port diameter", self.diameter, "4 mm")
        _above("port length", self.length, "8 mm")
        _above("radius of the ports' circle", self.circle, "9.5 mm")
        if self.diameter >= 2.0 * self.circle:
            raise DomainError(f"a port of {_mm(self.diameter)} does not fit on a circle of radius {_mm(self.circle)}")
        apart = 2.0 * self.circle * math.sin(math.pi / self.count) if self.count > 1 else math.inf
        if apart < self.diameter - 1e-9:
            raise DomainError(
                f"{self.count} ports of {_mm(self.diameter)} overlap on a circle of {_mm(2.0 * self.circle)}: their "
                f"middles stand {_mm(round(apart, 6))} apart; fewer, smaller or a wider circle"
            )
        if self.recess is not None and not 0.0 < self.recess[0] < self.recess[1]:
            raise DomainError(
                f"recess from radius {_mm(self.recess[0])} to {_mm(self.recess[1])}: the outer radius must be larger"
            )

    @property
    def area(self) -> float:
        """Of all holes [m2]."""
        return self.count * math.pi * self.diameter**2 / 4.0

    @property
    def ring(self) -> tuple[float, float]:
        """Inner and outer radius between which the pressure acts on the first disc [m]."""
        half = self.diameter / 2.0
        return self.recess or (self.circle - half, self.circle + half)

    @property
    def share(self) -> float:
        """Share of that ring on which the pressure acts [-]: 1 with a recess."""
        inner, outer = self.ring
        return 1.0 if self.recess else self.area / (math.pi * (outer**2 - inner**2))


@dataclass(frozen=True, kw_only=True)
class StackValve:
    """A stack of discs over a seat, fed by ports.

    Parameters
    ----------
    discs : tuple of Disc
        In order from the seat. A disc no larger than the clamp is a spacer: behind the seat disc it is a gap between
        its neighbours, at the end it is part of the clamp.
    clamp : float
        Radius up to which the stack is clamped [m].
    ports : Ports
    seat : float
        Radius of the seat's edge [m].
    seat_height : float
        How far that edge stands above the clamp's plane [m]; above 0 preloads the stack.
    land : float
        Radial width of a flat seat, inwards from its edge [m]; 0 is a sharp edge.
    washer : Washer, optional
        Backing washer.
    notch : float
        Area of slits in the seat disc or coined in the seat, fed by the same ports, that pass oil while the discs are
        shut [m2]; 0: none.

    Raises
    ------
    DomainError
        For an empty stack, a seat disc that does not cover its seat, a clamp larger than a disc that must bend, ports
        that reach over the seat or under the clamp.
    """

    discs: tuple[Disc, ...]
    clamp: float
    ports: Ports
    seat: float
    seat_height: float = 0.0
    land: float = 0.0
    washer: Washer | None = None
    notch: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what cannot be built; the stack itself refuses the rest when it is solved."""
        if not self.discs:
            raise DomainError("the stack is empty; it needs at least one disc, such as 0.20 x 28 mm")
        _above("clamp radius", self.clamp, "5 mm")
        _above("seat radius", self.seat, "11 mm")
        first = self.discs[0].radius
        if self.clamp > first - LEAST_OVERHANG:
            raise DomainError(
                f"clamp of {_mm(2.0 * self.clamp)} is not smaller than the seat disc of {_mm(2.0 * first)}; nothing is "
                "left to bend"
            )
        if first < self.seat - 1e-9:
            raise DomainError(
                f"seat disc of {_mm(2.0 * first)} does not cover its seat of {_mm(2.0 * self.seat)}; a larger disc or "
                "a smaller seat"
            )
        inner, outer = self.ports.ring
        if inner < self.clamp - 1e-9:
            raise DomainError(
                f"ports reach in to a diameter of {_mm(2.0 * inner)}, under the clamp of {_mm(2.0 * self.clamp)}"
            )
        if outer > self.seat - self.land + 1e-9:
            raise DomainError(
                f"ports reach out to a diameter of {_mm(2.0 * outer)}, past the inner edge of the seat at "
                f"{_mm(2.0 * (self.seat - self.land))}"
            )
        if not (math.isfinite(self.land) and self.land >= 0.0):
            raise DomainError(f"seat land of {_mm(self.land)} cannot be below 0")
        if not (math.isfinite(self.notch) and self.notch >= 0.0):
            raise DomainError(f"notch of {self.notch * 1e6:g} mm2 cannot be below 0")

    @property
    def widest(self) -> float:
        """Largest radius of any disc [m]."""
        return max(disc.radius for disc in self.discs)

    @property
    def height(self) -> float:
        """Of all discs, spacers among them [m]."""
        return math.fsum(disc.thickness for disc in self.discs)


@dataclass(frozen=True, kw_only=True)
class PlateValve:
    """A rigid plate on a light spring up to a stop, such as a foot valve's intake.

    Parameters
    ----------
    ports : Ports
    seat : float
        Radius of the seat's edge [m].
    rate : float
        Of the spring [N/m].
    preload : float
        Spring force on the seat [N].
    stop : float
        Largest lift [m].

    Raises
    ------
    DomainError
        If a number cannot be.
    """

    ports: Ports
    seat: float
    rate: float
    preload: float
    stop: float

    def __post_init__(self) -> None:
        """Refuse impossible numbers."""
        _above("seat radius", self.seat, "11 mm")
        _above("lift at the plate's stop", self.stop, "1.5 mm")
        if not (math.isfinite(self.rate) and self.rate > 0.0):
            raise DomainError(f"rate of the plate's spring is {self.rate / 1e3:g} N/mm; it must be above 0")
        if not (math.isfinite(self.preload) and self.preload >= 0.0):
            raise DomainError(f"preload of the plate's spring is {self.preload:g} N; it must not be below 0")
        if self.ports.ring[1] > self.seat + 1e-9:
            raise DomainError(
                f"ports reach out to a diameter of {_mm(2.0 * self.ports.ring[1])}, past the seat of "
                f"{_mm(2.0 * self.seat)}"
            )

    @property
    def widest(self) -> float:
        """Radius that the plate needs at least [m]."""
        return self.seat


Valve: TypeAlias = StackValve | PlateValve


@dataclass(frozen=True, kw_only=True)
class Bleed:
    """Holes that are always open, both ways.

    Parameters
    ----------
    diameter : float
        Of each hole [m].
    count : int
        Number of holes.
    length : float
        Along the flow [m]; 0 is a sharp edge.
    """

    diameter: float
    count: int = 1
    length: float = 0.001

    def __post_init__(self) -> None:
        """Refuse holes that are none."""
        _above("bleed diameter", self.diameter, "1.2 mm")
        if self.count < 1:
            raise DomainError(f"{self.count} bleed holes; leave the bleed out instead")
        if not (math.isfinite(self.length) and self.length >= 0.0):
            raise DomainError(f"bleed length of {_mm(self.length)} cannot be below 0")

    @property
    def area(self) -> float:
        """Of all holes [m2]."""
        return self.count * math.pi * self.diameter**2 / 4.0


@dataclass(frozen=True, kw_only=True)
class Valving:
    """What one piston, foot valve or reservoir head carries.

    Parameters
    ----------
    compression, rebound : StackValve or PlateValve, optional
        Opens in that stroke. At a foot valve "rebound" is the intake.
    bleed : tuple of Bleed
        Always open.
    """

    compression: Valve | None = None
    rebound: Valve | None = None
    bleed: tuple[Bleed, ...] = ()

    def valve(self, sense: Sense) -> Valve | None:
        """Return the valve that opens in a stroke."""
        return self.compression if sense == "compression" else self.rebound


@dataclass(frozen=True, kw_only=True)
class Reservoir:
    """A remote reservoir with floating piston: inside sizes [m], hose, and the valving at its head."""

    bore: float
    length: float
    wall: float = 0.002
    valving: Valving | None = None
    hose: Hose | None = None


@dataclass(frozen=True, kw_only=True)
class Body:
    """All of a damper but its valves; sizes in [m].

    Parameters
    ----------
    architecture : {"twin_tube", "mono_tube"}
    bore, rod : float
        Piston (working tube's inside) and rod diameter.
    stroke : float
        From fully open to fully closed.
    length : float
        Inside length of the tube.
    oil, oil_volume : Oil, float
        [m3] at `gas_temperature`.
    gas_pressure : float
        Absolute, in mid-stroke, at `gas_temperature` [Pa].
    gas_temperature, gas_exponent : float
        [K]; 1 slow to 1.4 quick [-].
    piston_length, band_length : float
        Of the piston and of its band along the flow.
    upper_length : float, optional
        Free length above the piston in mid-stroke; half of what the piston leaves unless given.
    wall, inner_wall, tube_bore : float
        Wall of the outer (or only) tube; wall of the working tube and inside of the outer tube of a twin-tube.
    floating_piston_length : float
        Of a mono-tube.
    reservoir : Reservoir, optional
        Of a mono-tube.
    friction : float, optional
        Coulomb friction of seal, guide and band where it was measured on this damper [N]; else that of `Parameters`.
    cavitation_pressure : float
        Absolute [Pa].

    Raises
    ------
    DomainError
        If architecture and fields do not belong together. Sizes are refused by the hydraulics when assembled.
    """

    architecture: Architecture
    bore: float
    rod: float
    stroke: float
    length: float
    oil: Oil
    oil_volume: float
    gas_pressure: float
    gas_temperature: float = 293.15
    gas_exponent: float = 1.4
    piston_length: float = 0.030
    band_length: float = 0.010
    upper_length: float | None = None
    wall: float = 0.002
    inner_wall: float = 0.0015
    tube_bore: float | None = None
    floating_piston_length: float = 0.020
    reservoir: Reservoir | None = None
    friction: float | None = None
    cavitation_pressure: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a body that is neither."""
        if self.architecture not in ("twin_tube", "mono_tube"):
            raise DomainError(f"architecture {self.architecture!r}; known are twin_tube and mono_tube")
        twin = self.architecture == "twin_tube"
        if twin and self.tube_bore is None:
            raise DomainError("a twin-tube needs the inside diameter of its outer tube")
        if twin and self.reservoir is not None:
            raise DomainError(
                "a twin-tube has its reserve between the tubes; a remote reservoir belongs to a mono-tube"
            )


@dataclass(frozen=True, kw_only=True)
class DamperBuild:
    """One damper as built.

    Parameters
    ----------
    body : Body
    piston : Valving
    foot : Valving, optional
        Of a twin-tube.
    name : str
        For messages and results.

    Raises
    ------
    DomainError
        For a twin-tube without a foot valve, a mono-tube with one, or a disc larger than the bore.
    """

    body: Body
    piston: Valving
    foot: Valving | None = None
    name: str = "damper"

    def __post_init__(self) -> None:
        """Refuse valves that do not belong to the body."""
        twin = self.body.architecture == "twin_tube"
        if twin and self.foot is None:
            raise DomainError(f"{self.name}: a twin-tube needs a foot valve")
        if not twin and self.foot is not None:
            raise DomainError(f"{self.name}: a mono-tube has no foot valve; put it at the head of a remote reservoir")
        for place, sense, valve in self.valves():
            bore = self.body.bore if place != "reservoir" or self.body.reservoir is None else self.body.reservoir.bore
            if 2.0 * valve.widest >= bore:
                raise DomainError(
                    f"{self.name}, {place} {sense}: {_mm(2.0 * valve.widest)} is not smaller than the bore of "
                    f"{_mm(bore)}"
                )

    def valving(self, place: Place) -> Valving | None:
        """Return what sits at a place, None where nothing does."""
        if place == "piston":
            return self.piston
        if place == "foot":
            return self.foot
        return None if self.body.reservoir is None else self.body.reservoir.valving

    def valves(self) -> Iterator[tuple[Place, Sense, Valve]]:
        """Yield every valve with where it sits and the stroke in which it opens."""
        places: tuple[Place, ...] = ("piston", "foot", "reservoir")
        senses: tuple[Sense, ...] = ("compression", "rebound")
        for place in places:
            group = self.valving(place)
            for sense in senses:
                valve = None if group is None else group.valve(sense)
                if valve is not None:
                    yield place, sense, valve
