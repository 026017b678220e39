"""Twin-tube and mono-tube dampers: sizes, oil and gas volumes, and what makes a build impossible.

Position x [m] is 0 in the middle of the stroke and positive inwards (compression). Pressures are absolute.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

from tussock.errors import DomainError
from tussock.mechanics.dampers.hydraulics.oil import ATMOSPHERE, Oil
from tussock.mechanics.dampers.hydraulics.restrictions import Hose
from tussock.mechanics.dampers.hydraulics.valves import ValveSet

#: Steel [kg/m3], [J/(kg K)] (handbook values, from memory).
STEEL_DENSITY, STEEL_HEAT = 7850.0, 480.0


def _circle(diameter: float) -> float:
    return math.pi * diameter**2 / 4.0


def _positive(name: str, values: Mapping[str, float], unit: str = "mm", scale: float = 1e3) -> None:
    for what, value in values.items():
        if not (math.isfinite(value) and value > 0.0):
            raise DomainError(f"{name}: {what} {value * scale:g} {unit} must be above 0")


@dataclass(frozen=True, kw_only=True, eq=False)
class RemoteReservoir:
    """A separate reservoir with a floating piston, fed by a hose.

    Parameters
    ----------
    bore, length, wall : float
        Inside diameter, inside length and wall thickness [m].
    valves : ValveSet, optional
        At its head: "compression" when oil comes in, "rebound" when it goes back.
    hose : Hose, optional
    """

    bore: float
    length: float
    wall: float = 0.002
    valves: ValveSet | None = None
    hose: Hose | None = None

    def __post_init__(self) -> None:
        """Refuse sizes that cannot be."""
        _positive("remote reservoir", {"bore": self.bore, "length": self.length, "wall": self.wall})

    @property
    def volume(self) -> float:
        """Inside volume [m3]."""
        return _circle(self.bore) * self.length


@dataclass(frozen=True, kw_only=True, eq=False)
class _Damper:
    """What both architectures share; see `TwinTube` and `MonoTube` for the fields."""

    bore: float
    rod: float
    stroke: float
    length: float
    oil: Oil
    piston: ValveSet
    oil_volume: float
    gas_pressure: float
    gas_exponent: float = 1.4
    gas_temperature: float = 293.15
    piston_length: float = 0.030
    upper_length: float | None = None
    wall: float = 0.002
    friction: float = 0.0
    cavitation_pressure: float = 0.0
    name: str = "damper"

    def __post_init__(self) -> None:
        """Refuse what both architectures refuse."""
        n = self.name
        _positive(
            n,
            {
                "bore": self.bore, "rod diameter": self.rod, "stroke": self.stroke, "length of the tube": self.length,
                "length of the piston": self.piston_length, "wall": self.wall,
            },
        )  # fmt: skip
        if self.rod >= self.bore:
            raise DomainError(
                f"{n}: a rod of {self.rod * 1e3:g} mm is wider than the piston of {self.bore * 1e3:g} "
                "mm; it must be thinner"
            )
        if not (math.isfinite(self.oil_volume) and self.oil_volume > 0.0):
            raise DomainError(f"{n}: there is no oil in it ({self.oil_volume * 1e6:g} cm3)")
        if not (math.isfinite(self.gas_pressure) and self.gas_pressure > 0.0):
            raise DomainError(
                f"{n}: gas pressure {self.gas_pressure / 1e6:g} MPa; it is absolute and must be above 0 "
                f"({ATMOSPHERE / 1e6:g} MPa is the open air)"
            )
        if not 1.0 <= self.gas_exponent <= 1.67:
            raise DomainError(f"{n}: exponent of the gas {self.gas_exponent:g}; 1 is slow, 1.4 is quick nitrogen")
        if not (self.friction >= 0.0 and math.isfinite(self.friction)):
            raise DomainError(f"{n}: seal friction {self.friction:g} N cannot be below 0")
        if not (0.0 <= self.cavitation_pressure < self.gas_pressure):
            raise DomainError(
                f"{n}: the limit of cavitation {self.cavitation_pressure / 1e6:g} MPa must lie from 0 to below the gas "
                f"pressure {self.gas_pressure / 1e6:g} MPa"
            )
        if self.gas_temperature <= 0.0:
            raise DomainError(f"{n}: the gas was filled at {self.gas_temperature:g} K; kelvin above 0 are needed")
        if self.piston_length + self.stroke > self.length:
            raise DomainError(
                f"{n}: stroke {self.stroke * 1e3:g} mm and piston {self.piston_length * 1e3:g} mm "
                "need more than the tube's "
                f"{self.length * 1e3:g} mm"
            )
        if min(self.upper, self.length - self.piston_length - self.upper) < self.stroke / 2.0 - 1e-12:
            raise DomainError(
                f"{n}: {self.upper * 1e3:g} mm above the piston in mid-stroke leave "
                f"{(self.length - self.piston_length - self.upper) * 1e3:g} mm below it; half the stroke of "
                f"{self.stroke * 1e3:g} mm is needed on both sides"
            )
        band = self.piston.band
        if band is not None and 0.5 * math.pi * self.bore * band.gap >= self.annulus_area:
            raise DomainError(f"{n}: the band gap of {band.gap * 1e3:g} mm lets all oil past the piston")

    @property
    def upper(self) -> float:
        """Free length above the piston in mid-stroke [m]."""
        return (self.length - self.piston_length) / 2.0 if self.upper_length is None else self.upper_length

    @property
    def piston_area(self) -> float:
        """Area of the bore [m2]."""
        return _circle(self.bore)

    @property
    def rod_area(self) -> float:
        """Area of the rod [m2]."""
        return _circle(self.rod)

    @property
    def annulus_area(self) -> float:
        """Area of the bore without the rod [m2]."""
        return self.piston_area - self.rod_area

    def compression_volume(self, position: float = 0.0) -> float:
        """Return the volume below the piston at a position [m], in [m3] (in a mono-tube with the gas)."""
        return self.piston_area * (self.length - self.piston_length - self.upper - position)

    def rebound_volume(self, position: float = 0.0) -> float:
        """Return the volume round the rod above the piston at a position [m], in [m3]."""
        return self.annulus_area * (self.upper + position)

    @property
    def working_volume(self) -> float:
        """Both working chambers in mid-stroke [m3]."""
        return self.compression_volume() + self.rebound_volume()

    @property
    def base(self) -> ValveSet | None:
        """Valves between compression chamber and the gas-backed oil."""
        return None

    @property
    def hose(self) -> Hose | None:
        """Line in series with `base`."""
        return None

    @property
    def has_reserve(self) -> bool:
        """Whether gas-backed oil lies outside the compression chamber."""
        return False

    @property
    def reserve_volume(self) -> float:
        """Volume outside the working chambers, gas included [m3]."""
        return 0.0

    @property
    def gas_volume(self) -> float:
        """Gas in mid-stroke at `gas_temperature` [m3]."""
        return self.working_volume + self.reserve_volume - self.oil_volume

    def gas_volume_at(self, position: float, *, temperature: float | None = None) -> float:
        """Return the volume of the gas at a position [m], in [m3], the oil's expansion included.

        Raises
        ------
        DomainError
            If the oil leaves the gas no room.
        """
        kelvin = self.gas_temperature if temperature is None else temperature
        grown = self.oil_volume * (self.oil.at(self.gas_temperature).density / self.oil.at(kelvin).density - 1.0)
        volume = self.gas_volume - grown - self.rod_area * position
        if volume <= 0.0:
            raise DomainError(
                f"{self.name}: no room for gas {position * 1e3:.0f} mm into compression at {kelvin - 273.15:.0f} °C "
                f"({volume * 1e6:.1f} cm3); less oil or a longer tube is needed"
            )
        return volume

    def gas_pressure_at(self, position: float = 0.0, *, temperature: float | None = None) -> float:
        """Return the gas pressure at a position [m] and temperature [K], absolute [Pa].

        From the charge in mid-stroke: pressure with temperature and the oil's expansion slowly (exponent 1), with
        position by the gas exponent.
        """
        kelvin = self.gas_temperature if temperature is None else temperature
        middle = self.gas_volume_at(0.0, temperature=kelvin)
        still = self.gas_pressure * (kelvin / self.gas_temperature) * (self.gas_volume / middle)
        return still * float((middle / self.gas_volume_at(position, temperature=kelvin)) ** self.gas_exponent)

    def gas_force(self, position: float = 0.0, *, temperature: float | None = None) -> float:
        """Return (p_gas - p_atm) A_rod at a position [m], pushing the rod out [N]."""
        return (self.gas_pressure_at(position, temperature=temperature) - ATMOSPHERE) * self.rod_area

    @property
    def gas_rate(self) -> float:
        """Spring rate of the gas in mid-stroke, n p A_rod^2 / V [N/m]."""
        return self.gas_exponent * self.gas_pressure * self.rod_area**2 / self.gas_volume

    @property
    def outer_diameter(self) -> float:
        """Outside of the tube that meets the air [m]."""
        return self.bore + 2.0 * self.wall

    @property
    def outer_area(self) -> float:
        """Area of the tube that meets the air, its mantle and bottom [m2]."""
        return math.pi * self.outer_diameter * self.length + _circle(self.outer_diameter)

    @property
    def oil_mass(self) -> float:
        """[kg]."""
        return self.oil_volume * self.oil.at(self.gas_temperature).density

    @property
    def inner_steel_mass(self) -> float:
        """Steel that is washed by oil on all sides: piston, rod in the tube (and a twin-tube's inner tube) [kg]."""
        rod = self.rod_area * self.upper
        return STEEL_DENSITY * (self.piston_area * self.piston_length + rod)

    @property
    def wall_mass(self) -> float:
        """Steel of the tube that meets the air [kg]."""
        ring = _circle(self.outer_diameter) - _circle(self.outer_diameter - 2.0 * self.wall)
        return STEEL_DENSITY * (ring * self.length + _circle(self.outer_diameter) * self.wall)

    @property
    def wetted_area(self) -> float:
        """Inside of the wall that meets the air, where oil gives it heat [m2]."""
        return math.pi * (self.outer_diameter - 2.0 * self.wall) * self.length

    def _refuse_volumes(self) -> None:
        if self.gas_volume <= 0.0:
            raise DomainError(
                f"{self.name}: {self.oil_volume * 1e6:.0f} cm3 of oil do not fit into "
                f"{(self.working_volume + self.reserve_volume) * 1e6:.0f} cm3 with room for gas"
            )
        if self.gas_volume - self.rod_area * self.stroke / 2.0 <= 0.0:
            raise DomainError(
                f"{self.name}: full compression displaces {self.rod_area * self.stroke * 5e5:.1f} cm3 "
                "from mid-stroke, the gas "
                f"has only {self.gas_volume * 1e6:.1f} cm3; less oil or a longer tube is needed"
            )


@dataclass(frozen=True, kw_only=True, eq=False)
class TwinTube(_Damper):
    """A twin-tube damper: working tube, foot valve, reserve with gas over oil between the tubes.

    Parameters
    ----------
    bore, rod : float
        Piston (working tube's inside) and rod diameter [m].
    stroke : float
        From full rebound to full compression [m].
    length : float
        Inside length of the tubes [m].
    tube_bore : float
        Inside diameter of the outer tube [m].
    foot : ValveSet
        "compression" when oil leaves the working tube, "rebound" (intake) when it comes back.
    oil, piston : Oil, ValveSet
    oil_volume : float
        [m3] at `gas_temperature`.
    gas_pressure : float
        Absolute, mid-stroke, at `gas_temperature` [Pa].
    gas_exponent : float
        1 slow to 1.4 quick [-].
    gas_temperature : float
        At which oil and gas were filled [K].
    piston_length, inner_wall, wall : float
        Length of the piston, wall of the working and of the outer tube [m].
    upper_length : float, optional
        Free length above the piston in mid-stroke [m]; half of what the piston leaves unless given.
    friction : float
        Coulomb friction of seal, guide and band [N].
    cavitation_pressure : float
        Absolute pressure below which a chamber cavitates [Pa]; 0 is the oil's vapour pressure, dissolved gas comes out
        earlier (from memory: Lang 1977).
    name : str
        For messages.

    Raises
    ------
    DomainError
        For a build that cannot be: rod wider than piston, no oil, gas pressure not above 0, no room for gas, a foot
        valve that would draw gas at full rebound.
    """

    tube_bore: float
    foot: ValveSet
    inner_wall: float = 0.0015

    def __post_init__(self) -> None:
        """Refuse a build that cannot be."""
        super().__post_init__()
        _positive(self.name, {"bore of the outer tube": self.tube_bore, "wall of the working tube": self.inner_wall})
        if self.tube_bore <= self.bore + 2.0 * self.inner_wall:
            raise DomainError(
                f"{self.name}: an outer tube of {self.tube_bore * 1e3:g} mm inside leaves no room "
                "round a working tube of "
                f"{(self.bore + 2.0 * self.inner_wall) * 1e3:g} mm outside"
            )
        self._refuse_volumes()
        drawn = self.gas_volume + self.rod_area * self.stroke / 2.0
        if drawn >= self.reserve_volume:
            raise DomainError(
                f"{self.name}: at full rebound the gas fills the reserve ({drawn * 1e6:.0f} of "
                f"{self.reserve_volume * 1e6:.0f} cm3) and the foot valve draws gas; more oil or a "
                "wider outer tube is needed"
            )

    @property
    def base(self) -> ValveSet:
        """The foot valve."""
        return self.foot

    @property
    def has_reserve(self) -> bool:
        """A twin-tube has its oil reserve between the tubes."""
        return True

    @property
    def reserve_volume(self) -> float:
        """Room between the tubes, gas included [m3]."""
        return (_circle(self.tube_bore) - _circle(self.bore + 2.0 * self.inner_wall)) * self.length

    @property
    def outer_diameter(self) -> float:
        """Outside of the outer tube [m]."""
        return self.tube_bore + 2.0 * self.wall

    @property
    def inner_steel_mass(self) -> float:
        """Piston, rod in the tube and working tube [kg]."""
        ring = _circle(self.bore + 2.0 * self.inner_wall) - self.piston_area
        return super().inner_steel_mass + STEEL_DENSITY * ring * self.length

    @property
    def wetted_area(self) -> float:
        """Inside of the outer tube up to the oil's level in mid-stroke [m2]."""
        return math.pi * self.tube_bore * self.length * (1.0 - self.gas_volume / self.reserve_volume)


@dataclass(frozen=True, kw_only=True, eq=False)
class MonoTube(_Damper):
    """A mono-tube damper: gas behind a floating piston, in the tube or in a remote reservoir.

    Parameters
    ----------
    bore, rod, stroke, length, oil, piston, oil_volume, gas_pressure, gas_exponent, gas_temperature,
    piston_length, upper_length
        As of `TwinTube`; with a remote reservoir `length` holds oil only.
    wall : float
        Of the tube [m].
    friction, cavitation_pressure, name
        As of `TwinTube`.
    floating_piston_length : float
        Takes room in the tube or the reservoir [m].
    remote : RemoteReservoir, optional
        Holds gas and floating piston.

    Raises
    ------
    DomainError
        For a build that cannot be, as of `TwinTube`, or a floating piston that meets the piston at full compression or
        the end of its tube at full rebound.
    """

    floating_piston_length: float = 0.020
    remote: RemoteReservoir | None = None

    def __post_init__(self) -> None:
        """Refuse a build that cannot be."""
        super().__post_init__()
        _positive(self.name, {"length of the floating piston": self.floating_piston_length})
        self._refuse_volumes()
        swept = self.rod_area * self.stroke / 2.0
        if self.remote is None:
            room = self.compression_volume(self.stroke / 2.0) - (self.gas_volume - swept)
            if room < 0.0:
                raise DomainError(
                    f"{self.name}: at full compression the piston meets the floating piston "
                    f"({-room / self.piston_area * 1e3:.1f} mm too short); more oil or a longer tube is needed"
                )
        elif self.gas_volume + swept >= self.reserve_volume:
            raise DomainError(
                f"{self.name}: at full rebound the floating piston reaches the head of the reservoir "
                f"({(self.gas_volume + swept) * 1e6:.0f} of {self.reserve_volume * 1e6:.0f} cm3); more oil is needed"
            )

    def compression_volume(self, position: float = 0.0) -> float:
        """Return the volume below the piston at a position [m], in [m3], gas included, floating piston not."""
        inside = self.floating_piston_length if self.remote is None else 0.0
        return super().compression_volume(position) - self.piston_area * inside

    @property
    def base(self) -> ValveSet | None:
        """Valves at the head of the remote reservoir."""
        return None if self.remote is None else self.remote.valves

    @property
    def hose(self) -> Hose | None:
        """Line to the remote reservoir."""
        return None if self.remote is None else self.remote.hose

    @property
    def has_reserve(self) -> bool:
        """Whether a remote reservoir holds the gas."""
        return self.remote is not None

    @property
    def reserve_volume(self) -> float:
        """Room in the remote reservoir, gas included, floating piston not [m3]."""
        if self.remote is None:
            return 0.0
        return self.remote.volume - _circle(self.remote.bore) * self.floating_piston_length

    @property
    def outer_area(self) -> float:
        """Area of tube and remote reservoir that meets the air [m2]."""
        area = super().outer_area
        if self.remote is not None:
            outside = self.remote.bore + 2.0 * self.remote.wall
            area += math.pi * outside * self.remote.length + 2.0 * _circle(outside)
        return area

    @property
    def wall_mass(self) -> float:
        """Steel of tube and remote reservoir [kg]."""
        mass = super().wall_mass
        if self.remote is not None:
            ring = _circle(self.remote.bore + 2.0 * self.remote.wall) - _circle(self.remote.bore)
            mass += STEEL_DENSITY * ring * self.remote.length
        return mass

    @property
    def wetted_area(self) -> float:
        """Inside of the tube that oil wets in mid-stroke, and of the remote reservoir [m2]."""
        if self.remote is None:
            return (
                math.pi * self.bore * (self.length - self.gas_volume / self.piston_area - self.floating_piston_length)
            )
        wet = self.remote.length - self.floating_piston_length - self.gas_volume / _circle(self.remote.bore)
        return math.pi * (self.bore * self.length + self.remote.bore * wet)


#: Any damper that the hydraulics take.
Damper: TypeAlias = TwinTube | MonoTube
