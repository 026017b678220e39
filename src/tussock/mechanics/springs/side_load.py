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
        Sideways rate [N/m]; negative where the spring would push a free seat away.
    force : float
        Sideways force at each seat [N], against the offset; negative where it pushes farther out.
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


def _turn(spring: CoilSpring, length: float) -> tuple[float, float]:
    """Return half the angle of the column's wave [rad] and X of the formula; DomainError where there is none."""
    load = spring.force(length)  # refuses a length below solid
    if load <= 0.0:
        raise DomainError(f"side load: the spring is loose at {length * 1e3:.1f} mm")
    ratio = spring.shear_modulus / spring.elastic_modulus
    slender = spring.free_length / spring.mean_diameter
    xi = (spring.free_length - length) / spring.free_length
    x = math.sqrt((0.5 + ratio) * (ratio + (1.0 - xi) / xi))
    angle = slender * xi * x
    if angle >= math.pi:
        raise DomainError(f"side load: even between held seats the spring buckles before {length * 1e3:.1f} mm")
    return angle, x


def transverse_rate(spring: CoilSpring, length: float) -> float:
    """Return the sideways rate of a coil between parallel guided ends at a length [N/m].

    Negative past the deflection at which ends that are free to shift would buckle away (nu = 1): there the guides hold
    the seats, not the spring.

    Raises
    ------
    DomainError
        Outside solid to free length, or where the coil buckles between held seats too (nu = 0.5).

    Notes
    -----
    R_Q = R xi / [xi - 1 + X tan(lambda xi X) / (lambda (1/2 + G/E))]
    with lambda = L0/D, xi = s/L0 and X = sqrt((1/2 + G/E) (G/E + (1 - xi)/xi)) [1]_.

    Examples
    --------
    >>> spring = CoilSpring(wire=12.5e-3, mean_diameter=110e-3, active_coils=7.5, free_length=365e-3)
    >>> round(transverse_rate(spring, 0.285) / 1e3, 1)
    2.5
    """
    angle, x = _turn(spring, length)
    ratio = spring.shear_modulus / spring.elastic_modulus
    slender = spring.free_length / spring.mean_diameter
    xi = (spring.free_length - length) / spring.free_length
    # multiplied through by the cosine, which is 0 where the rate is
    below = (xi - 1.0) * math.cos(angle) + x * math.sin(angle) / (slender * (0.5 + ratio))
    return spring.rate * xi * math.cos(angle) / below


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
    F D / 2 [1]_. Stress: 8 [F (D + s_Q) + F_Q (L - d)] / (pi d^3) [1]_; past nu = 1 the moment is greatest between the
    ends, where it is the end's over the sine of the column's angle [2]_.
    """
    if not offset >= 0.0:
        raise DomainError(f"side load: the offset is {offset * 1e3:g} mm; give its amount, not negative")
    angle, _ = _turn(spring, length)
    rate = transverse_rate(spring, length)
    load, force = spring.force(length), rate * offset
    d, mean = spring.wire, spring.mean_diameter
    moment = 0.5 * abs(force * length + load * offset)
    if angle <= 0.5 * math.pi:
        bending = load * offset + force * (length - d)
    else:
        bending = 2.0 * moment / math.sin(angle)
    return SideLoad(
        offset=offset,
        rate=rate,
        force=force,
        stress=8.0 * (load * mean + bending) / (math.pi * d**3),
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
