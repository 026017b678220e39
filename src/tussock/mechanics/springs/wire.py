"""Spring steel: moduli, tensile strength of drawn wire, permissible stress at solid, curvature factors.

References
----------
.. [1] EN 13906-1:2013, Cylindrical helical springs made from round wire and bar, compression springs. Clauses and
   figures as seen in public transcriptions, not in the standard itself.
.. [2] Budynas, Nisbett, Shigley's Mechanical Engineering Design, 10th ed., chapter 10.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from tussock.errors import DomainError

Wire: TypeAlias = Literal[
    "music wire", "oil-tempered wire", "hard-drawn wire", "chrome-vanadium wire", "chrome-silicon wire"
]


@dataclass(frozen=True, kw_only=True, slots=True)
class SpringSteel:
    """A spring steel: E [Pa], G [Pa], density [kg/m^3]."""

    elastic_modulus: float
    shear_modulus: float
    density: float


#: Steels of EN 13906-1 table 2. The drawn and oil-tempered rows are from memory.
STEELS: dict[str, SpringSteel] = {
    "EN 10089 hot rolled": SpringSteel(elastic_modulus=206e9, shear_modulus=78.5e9, density=7850.0),
    "EN 10270-1 patented drawn": SpringSteel(elastic_modulus=206e9, shear_modulus=81.5e9, density=7850.0),
    "EN 10270-2 oil-tempered": SpringSteel(elastic_modulus=206e9, shear_modulus=79.5e9, density=7850.0),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class SteelGrade:
    """Strength of a hot-rolled grade, quenched and tempered: least and greatest Rm, least Rp0.2 [Pa]."""

    least_tensile: float
    most_tensile: float
    proof: float


#: Grades of EN 10089, quenched and tempered, all of them from memory; E, G and density are those of the steel above.
GRADES: dict[str, SteelGrade] = {
    "51CrV4": SteelGrade(least_tensile=1350e6, most_tensile=1650e6, proof=1200e6),
    "54SiCr6": SteelGrade(least_tensile=1450e6, most_tensile=1750e6, proof=1300e6),
    "52CrMoV4": SteelGrade(least_tensile=1450e6, most_tensile=1750e6, proof=1300e6),
    "56SiCr7": SteelGrade(least_tensile=1500e6, most_tensile=1800e6, proof=1350e6),
    "61SiCr7": SteelGrade(least_tensile=1550e6, most_tensile=1850e6, proof=1400e6),
}

#: Torsional yield over tensile strength [2]_ table 10-6: before the set is removed, and least and most after it (the
#: latter from memory).
_YIELD_SHARE: dict[Wire, tuple[float, float, float]] = {
    "music wire": (0.45, 0.60, 0.70),
    "hard-drawn wire": (0.45, 0.60, 0.70),
    "oil-tempered wire": (0.50, 0.60, 0.70),
    "chrome-vanadium wire": (0.50, 0.65, 0.75),
    "chrome-silicon wire": (0.50, 0.65, 0.75),
}

#: Share of the tensile strength that a cold-coiled spring may bear for long (EN 13906-1, 10.2, from memory, unsure).
_WORKING_SHARE = {"EN 10270-1 patented drawn": 0.45, "EN 10270-2 oil-tempered": 0.50}

#: Tensile strength of drawn wire A / d^m [2]_ table 10-4: A [MPa mm^m], m [-], least and greatest d [mm].
#: Chrome-silicon and all diameter ranges are from memory.
_STRENGTH: dict[Wire, tuple[float, float, float, float]] = {
    "music wire": (2211.0, 0.145, 0.10, 6.5),
    "oil-tempered wire": (1855.0, 0.187, 0.5, 12.7),
    "hard-drawn wire": (1783.0, 0.190, 0.7, 12.7),
    "chrome-vanadium wire": (2005.0, 0.168, 0.8, 11.1),
    "chrome-silicon wire": (1974.0, 0.108, 1.6, 9.5),
}

#: permissible uncorrected stress at solid of hot-coiled springs of EN 10089 steel by wire diameter
#: (EN 13906-1, 10.1.2, figure as digitised in a public transcription): mm, MPa
_SOLID_STRESS = np.array(
    [
        [7.5, 955.0],
        [10.0, 925.0],
        [12.5, 896.9],
        [15.0, 874.4],
        [20.0, 840.2],
        [25.0, 813.1],
        [30.0, 794.6],
        [40.0, 761.3],
        [50.0, 735.8],
        [60.6, 716.5],
    ]
)

#: share of the tensile strength that a cold-coiled spring may see at solid (EN 13906-1, 10.1.1, from memory)
_COLD_SOLID_SHARE = 0.56


def wahl_factor(index: float) -> float:
    """Return Wahl's stress correction for spring index `index` = D/d [-], index > 1 [2]_.

    >>> round(wahl_factor(8.0), 4)
    1.184
    """
    require_index(index)
    return (4.0 * index - 1.0) / (4.0 * index - 4.0) + 0.615 / index


def en_factor(index: float) -> float:
    """Return the stress correction of EN 13906-1, equal to Bergstraesser's, for index D/d > 1 [-] [1]_.

    >>> round(en_factor(8.0), 4)
    1.1724
    """
    require_index(index)
    return (index + 0.5) / (index - 0.75)


def direct_shear_factor(index: float) -> float:
    """Return the direct-shear correction 1 + 0.5/index for index D/d > 1 [-] [2]_."""
    require_index(index)
    return 1.0 + 0.5 / index


def require_index(index: float) -> None:
    """Raise DomainError unless the spring index D/d [-] is above 1."""
    if not (math.isfinite(index) and index > 1.0):
        raise DomainError(f"spring index D/d is {index:g}; it must be above 1 (the wire would cross the axis)")


def tensile_strength(wire: Wire, diameter: float) -> float:
    """Return the least tensile strength of drawn spring wire [Pa].

    Parameters
    ----------
    wire : Wire
        Kind of wire.
    diameter : float
        Wire diameter [m], within the range of the kind.

    Raises
    ------
    DomainError
        Unknown kind, or a diameter outside its range.

    References
    ----------
    Shigley's Mechanical Engineering Design, 10th ed., table 10-4 (chrome-silicon and the ranges from memory).

    Examples
    --------
    >>> round(tensile_strength("music wire", 0.94e-3) / 1e6)
    2231
    """
    if wire not in _STRENGTH:
        raise DomainError(f"wire is {wire!r}; known are {', '.join(_STRENGTH)}")
    strength, exponent, low, high = _STRENGTH[wire]
    mm = diameter * 1e3
    if not low <= mm <= high:
        raise DomainError(f"{wire}: diameter {mm:g} mm lies outside its table ({low:g} to {high:g} mm)")
    return strength / math.pow(mm, exponent) * 1e6


def permissible_solid_stress(wire: float) -> float:
    """Return the permissible uncorrected stress at solid of a hot-coiled EN 10089 spring [Pa].

    Parameters
    ----------
    wire : float
        Wire diameter [m], 7.5 to 60.6 mm.

    Raises
    ------
    DomainError
        Outside the diameters of the table.

    References
    ----------
    EN 13906-1:2013, 10.1.2, figure as digitised in a public transcription.
    """
    mm = wire * 1e3
    low, high = float(_SOLID_STRESS[0, 0]), float(_SOLID_STRESS[-1, 0])
    if not low - 1e-9 <= mm <= high + 1e-9:
        raise DomainError(
            f"wire diameter {mm:g} mm lies outside the table of permissible stress ({low:g} to {high:g} mm)"
        )
    return float(np.interp(mm, _SOLID_STRESS[:, 0], _SOLID_STRESS[:, 1])) * 1e6


def permissible_solid_stress_cold(strength: float) -> float:
    """Return the permissible uncorrected stress at solid of a cold-coiled spring [Pa] from its tensile strength [Pa].

    References
    ----------
    EN 13906-1:2013, 10.1.1: 0.56 Rm (from memory).
    """
    if not strength > 0.0:
        raise DomainError(f"tensile strength is {strength:g} Pa; it must be positive")
    return _COLD_SOLID_SHARE * strength


def torsional_yield(wire: Wire, diameter: float, *, set_removed: bool = False) -> float:
    """Return the torsional yield strength of drawn spring wire [Pa], the lower end where the table gives a range.

    Parameters
    ----------
    wire, diameter
        As `tensile_strength`.
    set_removed : bool
        Whether the spring has been pressed solid once, after which it stands more.

    References
    ----------
    Shigley's Mechanical Engineering Design, 10th ed., table 10-6 (after set removal from memory).

    Examples
    --------
    >>> round(torsional_yield("music wire", 0.94e-3) / 1e6)
    1004
    """
    before, after, _ = _YIELD_SHARE[wire] if wire in _YIELD_SHARE else (0.0, 0.0, 0.0)
    return (after if set_removed else before) * tensile_strength(wire, diameter)


def permissible_working_stress_cold(steel: str, strength: float) -> float:
    """Return the uncorrected stress that a cold-coiled spring may bear at rest for long [Pa].

    Parameters
    ----------
    steel : str
        "EN 10270-1 patented drawn" or "EN 10270-2 oil-tempered".
    strength : float
        Its tensile strength [Pa].

    Raises
    ------
    DomainError
        Another steel, or a strength that is not positive.

    References
    ----------
    EN 13906-1:2013, 10.2: about 0.45 Rm and 0.50 Rm (from memory, unsure).
    """
    if steel not in _WORKING_SHARE:
        raise DomainError(f"steel is {steel!r}; the working stress is known for {', '.join(_WORKING_SHARE)}")
    if not strength > 0.0:
        raise DomainError(f"tensile strength is {strength:g} Pa; it must be positive")
    return _WORKING_SHARE[steel] * strength


def shear_modulus_at(temperature: float, *, at_20: float = 78.5e9) -> float:
    """Return the shear modulus of EN 10089 steel at a temperature [Pa].

    Parameters
    ----------
    temperature : float
        [deg C], -60 to 200: the line holds for working temperatures only.
    at_20 : float
        Shear modulus at 20 deg C [Pa].

    References
    ----------
    EN 13906-1:2013, 8.2 (2): G(t) = G20 (1 - 0.25e-3 (t - 20)).
    """
    if not -60.0 <= temperature <= 200.0:
        raise DomainError(f"{temperature:g} deg C lies outside the range of the modulus line (-60 to 200 deg C)")
    return at_20 * (1.0 - 0.25e-3 * (temperature - 20.0))
