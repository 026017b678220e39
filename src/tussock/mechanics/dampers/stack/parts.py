"""Discs, seats, ports and the washer: what a stack is made of, refused in words where it cannot be built."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise

from tussock.errors import DomainError

#: The least part of a disc that must stand free of its clamp [m]; below it the thin-plate model says nothing.
LEAST_OVERHANG = 0.1e-3
#: The thickest plate, as a share of its free span, for which a thin-plate model is offered [-].
THICKEST = 1.0


def _mm(value: float) -> str:
    return f"{value * 1e3:g} mm"


def _positive(what: str, value: float, unit: str, scale: float, example: str) -> None:
    if not (math.isfinite(value) and value > 0.0):
        raise DomainError(f"{what} is {value * scale:g} {unit}; it must be above 0, such as {example}")


@dataclass(frozen=True, kw_only=True)
class Material:
    """A disc's material.

    Parameters
    ----------
    youngs_modulus : float
        [Pa].
    poisson_ratio : float
        [-], 0 to below 0.5.
    density : float
        [kg/m^3].
    fatigue_strength : float
        Largest equivalent stress under a load that pulsates from zero, which the disc bears for good [Pa]. It depends
        on strip, edge finish and oil: take it from the strip's supplier or your own tests.
    name : str
        What people call it.

    Raises
    ------
    DomainError
        If a number is impossible.
    """

    youngs_modulus: float
    poisson_ratio: float
    density: float
    fatigue_strength: float
    name: str = "spring steel"

    def __post_init__(self) -> None:
        """Refuse impossible numbers."""
        _positive(f"{self.name}: Young's modulus", self.youngs_modulus, "GPa", 1e-9, "206 GPa")
        _positive(f"{self.name}: density", self.density, "kg/m^3", 1.0, "7850 kg/m^3")
        _positive(f"{self.name}: fatigue strength", self.fatigue_strength, "MPa", 1e-6, "700 MPa")
        if not 0.0 <= self.poisson_ratio < 0.5:
            raise DomainError(f"{self.name}: Poisson's ratio {self.poisson_ratio:g} lies outside 0 to 0.5 (steel: 0.3)")


@dataclass(frozen=True, kw_only=True)
class Disc:
    """One flat annular disc. Its hole is taken to be filled by the post.

    Parameters
    ----------
    radius : float
        Outer radius [m].
    thickness : float
        [m].
    material : Material
        What it is made of.

    Raises
    ------
    DomainError
        If a number is impossible.
    """

    radius: float
    thickness: float
    material: Material

    def __post_init__(self) -> None:
        """Refuse impossible numbers."""
        _positive("disc radius", self.radius, "mm", 1e3, "14 mm")
        _positive("disc thickness", self.thickness, "mm", 1e3, "0.2 mm")


@dataclass(frozen=True, kw_only=True)
class Seat:
    """A seat ring under the first disc.

    Parameters
    ----------
    radius : float
        Of the edge on which the disc rests [m].
    height : float
        How far the edge stands above the clamp's plane [m]: above 0 it preloads the stack (a dished seat), below 0 it
        leaves a gap.

    Raises
    ------
    DomainError
        If a number is impossible.
    """

    radius: float
    height: float = 0.0

    def __post_init__(self) -> None:
        """Refuse impossible numbers."""
        _positive("seat radius", self.radius, "mm", 1e3, "12 mm")
        if not abs(self.height) < 0.5 * self.radius:
            raise DomainError(
                f"seat height {_mm(self.height)} at radius {_mm(self.radius)}: seats stand tenths of a millimetre high"
            )


@dataclass(frozen=True, kw_only=True)
class Port:
    """A ring of the first disc's underside on which the pressure acts.

    Parameters
    ----------
    inner, outer : float
        Radii [m].
    share, outer_share : float
        Part of the stack's pressure that acts at the inner and outer radius [-], linear between: 1 and 1 is the port
        itself, 1 and 0 a seat land over which the pressure falls.

    Raises
    ------
    DomainError
        If a number is impossible.
    """

    inner: float
    outer: float
    share: float = 1.0
    outer_share: float = 1.0

    def __post_init__(self) -> None:
        """Refuse impossible numbers."""
        _positive("port's inner radius", self.inner, "mm", 1e3, "8 mm")
        if not (math.isfinite(self.outer) and self.outer > self.inner):
            raise DomainError(
                f"port from radius {_mm(self.inner)} to {_mm(self.outer)}: the outer radius must be the larger"
            )
        for value in (self.share, self.outer_share):
            if not 0.0 <= value <= 1.0:
                raise DomainError(f"port share of pressure {value:g} lies outside 0 to 1")


@dataclass(frozen=True, kw_only=True)
class RingLoad:
    """A force along a circle of the first disc that grows with the pressure, pushing the disc open.

    Parameters
    ----------
    radius : float
        [m].
    area : float
        Force of the whole circle per unit of pressure [m^2].

    Raises
    ------
    DomainError
        If a number is impossible.
    """

    radius: float
    area: float

    def __post_init__(self) -> None:
        """Refuse impossible numbers."""
        _positive("ring load's radius", self.radius, "mm", 1e3, "12 mm")
        _positive("ring load's area", self.area, "mm^2", 1e6, "150 mm^2")


@dataclass(frozen=True, kw_only=True)
class Washer:
    """A rigid flat washer behind the last disc that limits the lift.

    Parameters
    ----------
    radius : float
        Of its edge [m].
    height : float
        Free height between the last disc, flat, and the washer's face [m].

    Raises
    ------
    DomainError
        If a number is impossible.
    """

    radius: float
    height: float

    def __post_init__(self) -> None:
        """Refuse impossible numbers."""
        _positive("backing washer's radius", self.radius, "mm", 1e3, "12 mm")
        if not (math.isfinite(self.height) and self.height >= 0.0):
            raise DomainError(f"backing washer's height is {_mm(self.height)}; it must be 0 or above")


@dataclass(frozen=True, kw_only=True)
class Stack:
    """A stack of discs, the first one on the seat.

    Parameters
    ----------
    discs : tuple of Disc
        In order from the seat.
    clamp_radius : float or tuple of float
        Radius up to which the discs are clamped [m]: one for all or one a disc.
    ports : tuple of Port
        Where the pressure acts on the first disc.
    ring_loads : tuple of RingLoad
        Forces along circles of the first disc.
    seats : tuple of Seat
        Seat rings; the outermost is where the lift is read.
    gaps : tuple of float
        Spacer between each disc and the next [m], one fewer than discs; empty: none.
    washer : Washer or None
        Backing washer.

    Raises
    ------
    DomainError
        If the stack cannot be built; the text names the part and its numbers.

    Examples
    --------
    >>> steel = Material(youngs_modulus=206e9, poisson_ratio=0.3, density=7850.0, fatigue_strength=700e6)
    >>> discs = tuple(Disc(radius=r, thickness=0.2e-3, material=steel) for r in (14e-3, 11e-3))
    >>> stack = Stack(discs=discs, clamp_radius=5e-3, ports=(Port(inner=8e-3, outer=12e-3),))
    >>> round(stack.lift_radius, 4), stack.clamps
    (0.014, (0.005, 0.005))
    """

    discs: tuple[Disc, ...]
    clamp_radius: float | tuple[float, ...]
    ports: tuple[Port, ...] = ()
    ring_loads: tuple[RingLoad, ...] = ()
    seats: tuple[Seat, ...] = ()
    gaps: tuple[float, ...] = ()
    washer: Washer | None = None
    clamps: tuple[float, ...] = field(init=False, repr=False)
    spaces: tuple[float, ...] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Refuse what cannot be built."""
        count = len(self.discs)
        if count == 0:
            raise DomainError("the stack is empty; it needs at least one disc")
        clamps = (self.clamp_radius,) * count if isinstance(self.clamp_radius, int | float) else self.clamp_radius
        if len(clamps) != count:
            raise DomainError(f"{len(clamps)} clamp radii for {count} discs; give one for all or one a disc")
        gaps = self.gaps or (0.0,) * (count - 1)
        if len(gaps) != count - 1:
            raise DomainError(
                f"{len(gaps)} gaps for {count} discs; give {count - 1}, one between each disc and the next"
            )
        object.__setattr__(self, "clamps", tuple(float(c) for c in clamps))
        object.__setattr__(self, "spaces", tuple(float(g) for g in gaps))
        for number, gap in enumerate(gaps, 1):
            if not (math.isfinite(gap) and gap >= 0.0):
                raise DomainError(f"gap above disc {number} is {_mm(gap)}; it must be 0 or above")
        for number, (disc, clamp) in enumerate(zip(self.discs, clamps, strict=True), 1):
            _positive(f"clamp radius of disc {number}", clamp, "mm", 1e3, "6 mm")
            span = disc.radius - clamp
            if span < LEAST_OVERHANG - 1e-12:
                raise DomainError(
                    f"disc {number}: clamp radius {_mm(clamp)} leaves none of its radius {_mm(disc.radius)} to bend; "
                    f"it must stand out {_mm(LEAST_OVERHANG)} or more. A ring inside the clamp is a gap: give it as one"
                )
        self._check_loads()
        self._check_room()

    def _check_loads(self) -> None:
        """Loads lie on the first disc and ports do not overlap."""
        first, clamp = self.discs[0].radius, self.clamps[0]
        if not self.ports and not self.ring_loads:
            raise DomainError("nothing acts on the stack; give a port or a ring load")
        if first - clamp < self.discs[0].thickness * THICKEST:
            raise DomainError(
                f"disc 1 is {_mm(self.discs[0].thickness)} thick over a free span of {_mm(first - clamp)}: not thin"
            )
        ports = sorted(self.ports, key=lambda port: port.inner)
        for port in ports:
            if port.outer > first + 1e-9 or port.inner < clamp - 1e-9:
                raise DomainError(
                    f"port from radius {_mm(port.inner)} to {_mm(port.outer)} must lie between the clamp radius "
                    f"{_mm(clamp)} and disc 1's radius {_mm(first)}"
                )
        for one, two in pairwise(ports):
            if two.inner < one.outer - 1e-9:
                raise DomainError(
                    f"ports {_mm(one.inner)} to {_mm(one.outer)} and {_mm(two.inner)} to {_mm(two.outer)} overlap; "
                    "a radius can carry one pressure only"
                )
        for what, radii in (
            ("seat", [seat.radius for seat in self.seats]),
            ("ring load", [ring.radius for ring in self.ring_loads]),
        ):
            for radius in radii:
                if not clamp + LEAST_OVERHANG - 1e-12 <= radius <= first + 1e-9:
                    raise DomainError(
                        f"{what} at radius {_mm(radius)} must lie outside the clamp radius {_mm(clamp)} by at least "
                        f"{_mm(LEAST_OVERHANG)} and not outside disc 1's radius {_mm(first)}"
                    )
        seats = sorted(self.seats, key=lambda seat: seat.radius)
        for inner, outer in pairwise(seats):
            if outer.radius - inner.radius < LEAST_OVERHANG:
                raise DomainError(
                    f"seat rings at radius {_mm(inner.radius)} and {_mm(outer.radius)} are one; "
                    f"keep {_mm(LEAST_OVERHANG)} between them"
                )

    def _check_room(self) -> None:
        """A seat may not press the discs further up than the washer and the clamps let them go."""
        for seat in self.seats:
            free, blocked = 0.0, ""
            spaces = (*self.spaces, self.washer.height if self.washer else math.inf)
            for number, disc in enumerate(self.discs):
                if disc.radius < seat.radius - 1e-9:
                    free += disc.thickness
                elif number and self.clamps[number] >= seat.radius:
                    blocked = f"disc {number + 1}, clamped up to {_mm(self.clamps[number])},"
                    break
                free += spaces[number]
            else:
                if self.washer and self.washer.radius >= seat.radius - 1e-9:
                    blocked = "the backing washer"
            if blocked and seat.height > free - 1e-9 and seat.height > 0.0:
                raise DomainError(
                    f"seat ring at radius {_mm(seat.radius)} stands {_mm(seat.height)} high, but {blocked} leaves "
                    f"{_mm(free)} there: raise the washer or lower the seat"
                )

    @property
    def lift_radius(self) -> float:
        """Where the lift is read: the outermost seat ring, or the first disc's rim without a seat [m]."""
        return max((seat.radius for seat in self.seats), default=self.discs[0].radius)

    @property
    def mass(self) -> float:
        """Of the discs outside their clamp radii [kg]."""
        return math.fsum(
            math.pi * (disc.radius**2 - clamp**2) * disc.thickness * disc.material.density
            for disc, clamp in zip(self.discs, self.clamps, strict=True)
        )
