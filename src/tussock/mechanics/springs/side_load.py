"""Coils whose seats do not stand in line: sideways rate, sideways force, stress, and whether the ends stay seated.

References
----------
.. [1] EN 13906-1:2013, 9.13, transverse loading of a spring between guided parallel ends (formulas from memory).
.. [2] J. A. Haringx, On highly compressible helical springs and rubber rods, Philips Research Reports 3 and 4,
   1948-49: the spring as a column with bending, shear and axial stiffness (from memory); the formulas of [1]_ were
   derived anew from it.

Notes
-----
Even between flat parallel seats the line of force does not run along the axis: the end coils do not bear evenly, and
the line lies off the axis by an amount that changes with the tip position of the end coils. No published formula for
it was at hand, so nothing here gives it a figure: turn the tips as the drawing says, and measure it on a tester with
load cells under three points.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from tussock.errors import DomainError
from tussock.mechanics.springs.coil import CoilSpring


@dataclass(frozen=True, kw_only=True, slots=True)
class SideLoad:
    """A coil compressed with one seat moved sideways, both seats parallel.

    Attributes
    ----------
    offset : float
        Of one seat against the other, across the axis [m].
    rate : float
        Sideways rate [N/m].
    force : float
        Sideways force at each seat [N].
    stress : float
        Greatest uncorrected shear stress [Pa].
    seated : float
        Moment that turns an end off its seat, over the moment that holds it there [-]; below 1 the ends stay flat.
    line_shift : float
        Distance of the line of force from the middle of each seat [m]: the moment there over the load.
    """

    offset: float
    rate: float
    force: float
    stress: float
    seated: float
    line_shift: float


def transverse_rate(spring: CoilSpring, length: float) -> float:
    """Return the sideways rate of a coil between parallel guided ends at a length [N/m].

    Raises
    ------
    DomainError
        Outside solid to free length, or at and beyond the deflection at which the spring buckles sideways.

    Notes
    -----
    .. math:: R_Q = R \\xi \\left[\\xi - 1 + \\frac{X \\tan(\\lambda \\xi X)}{\\lambda (1/2 + G/E)}\\right]^{-1}

    with lambda = L0/D, xi = s/L0 and X = sqrt((1/2 + G/E) (G/E + (1 - xi)/xi)) [1]_.

    Examples
    --------
    >>> spring = CoilSpring(wire=12.5e-3, mean_diameter=110e-3, active_coils=7.5, free_length=365e-3)
    >>> round(transverse_rate(spring, 0.285) / 1e3, 1)
    2.5
    """
    load = spring.force(length)  # refuses a length below solid
    if load <= 0.0:
        raise DomainError(f"side load: the spring is loose at {length * 1e3:.1f} mm")
    ratio = spring.shear_modulus / spring.elastic_modulus
    slender = spring.free_length / spring.mean_diameter
    xi = (spring.free_length - length) / spring.free_length
    x = math.sqrt((0.5 + ratio) * (ratio + (1.0 - xi) / xi))
    angle = slender * xi * x
    if angle >= 0.5 * math.pi:
        raise DomainError(f"side load: the spring buckles sideways before {length * 1e3:.1f} mm")
    return spring.rate * xi / (xi - 1.0 + x * math.tan(angle) / (slender * (0.5 + ratio)))


def side_load(spring: CoilSpring, *, length: float, offset: float) -> SideLoad:
    """Return what a sideways offset of one seat does to a coil at a length.

    Parameters
    ----------
    spring : CoilSpring
        The coil.
    length : float
        Distance between the seats along the axis [m].
    offset : float
        Of one seat against the other across the axis, not negative [m].

    Raises
    ------
    DomainError
        As `transverse_rate`, and for a negative offset.

    Notes
    -----
    Moments about the coil's middle: each end is held by half of F_Q L + F s_Q; it stays flat while that is below
    F D / 2 [1]_. Stress: 8 [F (D + s_Q) + F_Q (L - d)] / (pi d^3) [1]_.
    """
    if not offset >= 0.0:
        raise DomainError(f"side load: the offset is {offset * 1e3:g} mm; give its amount, not negative")
    rate = transverse_rate(spring, length)
    load, force = spring.force(length), rate * offset
    d, mean = spring.wire, spring.mean_diameter
    moment = 0.5 * (force * length + load * offset)
    return SideLoad(
        offset=offset,
        rate=rate,
        force=force,
        stress=8.0 * (load * (mean + offset) + force * (length - d)) / (math.pi * d**3),
        seated=moment / (0.5 * load * mean),
        line_shift=moment / load,
    )


def impact_stress(speed: float, *, shear_modulus: float = 78.5e9, density: float = 7850.0) -> float:
    """Return the stress that a sudden end speed [m/s] sends along the wire of any coil [Pa]: v sqrt(2 rho G).

    It adds to the static stress, and doubles where it is thrown back from the held end; it does not depend on the
    coil's size (EN 13906-1, from memory; the same as the wave in Wahl, Mechanical Springs).

    >>> round(impact_stress(2.0) / 1e6)
    70
    """
    if not speed >= 0.0:
        raise DomainError(f"impact stress: the speed is {speed:g} m/s; give its amount")
    return speed * math.sqrt(2.0 * shear_modulus * density)
