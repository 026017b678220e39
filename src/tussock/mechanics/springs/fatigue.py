"""Fatigue of coil springs: the Goodman data of EN 13906-1 for hot coils, the handbook criteria for small wire.

References
----------
.. [1] EN 13906-1:2013, Goodman diagrams for hot-coiled, ground or peeled, shot-peened springs of special quality
   EN 10089 steel, as digitised in a public transcription.
.. [2] Budynas, Nisbett, Shigley's Mechanical Engineering Design, 10th ed., 10-9 (data of Zimmerli, 1957).
.. [3] Bhandari, Design of Machine Elements, chapter 10.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from tussock.errors import DomainError

Cycles: TypeAlias = Literal[100_000, 2_000_000]
Criterion: TypeAlias = Literal["Sines", "Goodman", "Gerber"]

#: wire diameter mm; permissible upper stress at zero lower stress, knee of the lower stress, greatest upper stress, MPa
_GOODMAN: dict[int, np.ndarray[tuple[int, ...], np.dtype[np.float64]]] = {
    100_000: np.array(
        [
            [10.0, 760.0, 225.0, 890.0],
            [15.0, 670.0, 262.0, 830.0],
            [25.0, 590.0, 305.0, 780.0],
            [35.0, 515.0, 335.0, 740.0],
            [50.0, 430.0, 393.0, 690.0],
        ]
    ),
    2_000_000: np.array(
        [
            [10.0, 645.0, 390.0, 890.0],
            [15.0, 555.0, 410.0, 830.0],
            [25.0, 475.0, 440.0, 780.0],
            [35.0, 405.0, 460.0, 740.0],
            [50.0, 325.0, 490.0, 690.0],
        ]
    ),
}

#: Zimmerli's endurance: amplitude and mean of the corrected stress [Pa], by whether the wire is shot peened
ZIMMERLI: dict[bool, tuple[float, float]] = {False: (241e6, 379e6), True: (398e6, 534e6)}
_ZIMMERLI_WIRE = 10e-3  # the data hold below this wire diameter [m] (scope from memory)


@dataclass(frozen=True, kw_only=True, slots=True)
class FatigueCheck:
    """Corrected stresses of a stroke and the upper stress that the cycles permit [Pa]."""

    lower: float
    upper: float
    permitted: float
    cycles: int = 2_000_000

    @property
    def margin(self) -> float:
        """Permitted over actual upper stress [-]; above 1 passes."""
        return self.permitted / self.upper if self.upper > 0.0 else math.inf


def permissible_upper_stress(wire: float, lower: float, *, cycles: Cycles = 2_000_000) -> float:
    """Return the upper corrected stress that the cycles permit above a lower corrected stress [Pa].

    Parameters
    ----------
    wire : float
        Wire diameter [m], 10 to 50 mm.
    lower : float
        Corrected stress at the lower end of the stroke [Pa], not negative.
    cycles : int
        100,000 or 2,000,000.

    Raises
    ------
    DomainError
        Outside the diameters of the table, for a negative lower stress, or for other numbers of cycles.

    References
    ----------
    EN 13906-1:2013 Goodman diagrams for hot-coiled, shot-peened springs, as digitised in a public transcription.
    """
    if lower < 0.0:
        raise DomainError(f"lower stress {lower / 1e6:g} MPa is negative: the spring would be in tension")
    at_zero, knee, most = goodman_line(wire, cycles=cycles)
    return at_zero + min(lower / knee, 1.0) * (most - at_zero)


def goodman_line(wire: float, *, cycles: Cycles) -> tuple[float, float, float]:
    """Return the line of the diagram for a wire: upper stress at no lower stress, knee, greatest upper stress [Pa].

    The permitted upper stress rises straight from the first at no lower stress to the last at the knee and is level
    beyond. Parameters, errors and source as `permissible_upper_stress`.
    """
    if cycles not in _GOODMAN:
        raise DomainError(f"fatigue data exist for 100,000 and 2,000,000 cycles, not for {cycles:,}")
    mm = wire * 1e3
    table = _GOODMAN[cycles]
    if not table[0, 0] - 1e-9 <= mm <= table[-1, 0] + 1e-9:
        raise DomainError(f"wire diameter {mm:g} mm lies outside the fatigue table (10 to 50 mm)")
    at_zero, knee, most = (float(np.interp(mm, table[:, 0], table[:, i])) * 1e6 for i in (1, 2, 3))
    return at_zero, knee, most


def endurance_amplitude(
    criterion: Criterion, *, amplitude: float, mean: float, rupture: float, peened: bool, wire: float
) -> float:
    """Return the stress amplitude that small wire endures for ever at the given amplitude-to-mean ratio [Pa].

    Parameters
    ----------
    criterion : {"Sines", "Goodman", "Gerber"}
        Sines: the mean has no effect. Goodman and Gerber: line and parabola to the torsional rupture strength.
    amplitude, mean : float
        Corrected stress amplitude and mean of the load cycle [Pa], both above 0.
    rupture : float
        Torsional rupture strength [Pa]; 0.67 times the tensile strength [2]_.
    peened : bool
        Whether the wire is shot peened.
    wire : float
        Wire diameter [m], below 10 mm; the data say nothing about suspension coils.

    Raises
    ------
    DomainError
        Outside the scope of the data.

    References
    ----------
    Shigley's Mechanical Engineering Design, 10th ed., eqs 10-28 to 10-30 (data of Zimmerli, 1957).
    """
    if not 0.0 < wire < _ZIMMERLI_WIRE:
        raise DomainError(f"wire of {wire * 1e3:g} mm: the endurance data hold below {_ZIMMERLI_WIRE * 1e3:g} mm only")
    if min(amplitude, mean) <= 0.0 or amplitude > mean:
        raise DomainError(
            f"stress amplitude {amplitude / 1e6:g} MPa and mean {mean / 1e6:g} MPa: a compression spring has "
            "0 < amplitude <= mean"
        )
    endured, endured_mean = ZIMMERLI[peened]
    if rupture <= endured_mean:
        raise DomainError(f"rupture strength {rupture / 1e6:g} MPa lies below the tests' mean stress")
    ratio = amplitude / mean
    if criterion == "Sines":
        return endured
    if criterion == "Goodman":
        reversed_ = endured / (1.0 - endured_mean / rupture)
        return ratio * reversed_ * rupture / (ratio * rupture + reversed_)
    if criterion == "Gerber":
        reversed_ = endured / (1.0 - (endured_mean / rupture) ** 2)
        root = math.sqrt(1.0 + (2.0 * reversed_ / (ratio * rupture)) ** 2)
        return ratio**2 * rupture**2 / (2.0 * reversed_) * (root - 1.0)
    raise DomainError(f"criterion is {criterion!r}; known are Sines, Goodman, Gerber")


def pulsating_margin(*, amplitude: float, mean: float, pulsating_limit: float, yield_stress: float) -> float:
    """Return the margin on the amplitude against the line from the pulsating limit to yield [-]; above 1 passes.

    The line joins (half the pulsating limit, half the pulsating limit) and (yield, 0) in the plane of mean and
    amplitude; the load point moves along its own ratio.

    Parameters
    ----------
    amplitude, mean : float
        Of the shear stress [Pa], both above 0.
    pulsating_limit : float
        Endured stress from zero to its peak [Pa]; 0.22 times the tensile strength for oil-tempered wire [3]_.
    yield_stress : float
        Torsional yield [Pa]; 0.45 times the tensile strength for oil-tempered wire [3]_.
    """
    if min(amplitude, mean) <= 0.0 or not 0.0 < pulsating_limit < 2.0 * yield_stress:
        raise DomainError("amplitude, mean and limits must be positive, half the pulsating limit below yield")
    half = pulsating_limit / 2.0
    slope = half / (yield_stress - half)
    return slope * yield_stress / (amplitude + slope * mean)
