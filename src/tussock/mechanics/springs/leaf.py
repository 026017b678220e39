"""Leaf springs: rate, wind-up, stress in each leaf, leaves that share a load with nip, and friction between them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats


def stiffening_factor(full_length_share: float) -> float:
    """Factor by which leaves of full length stiffen a spring against one of uniform strength (SF) [-].

    The leaves side by side make a trapezoid whose tip is `full_length_share` of the width at the seat.

    Parameters
    ----------
    full_length_share : float
        Full-length leaves over all leaves, 0 (triangle, SF = 1) to 1 (rectangle, SF = 1.5).

    Raises
    ------
    DomainError
        A share outside 0 to 1.

    Notes
    -----
    SF = 0.5 / J with J the integral of u^2 / (r + (1 - r) u) over 0..1, from the beam's curvature. Handbooks print
    about 1.15, 1.20, 1.25 and 1.50 for 1, 2, 3 and all leaves of full length (from memory, unsure).

    Examples
    --------
    >>> round(stiffening_factor(0.25), 4)
    1.1693
    """
    r = full_length_share
    if not 0.0 <= r <= 1.0:
        raise DomainError(f"leaf spring: the share of full-length leaves is {r:g}; it must lie between 0 and 1")
    s = 1.0 - r
    if s < 0.3:  # the closed form loses its figures as s falls
        j = sum(2.0 * s**k / ((k + 1) * (k + 2) * (k + 3)) for k in range(40))
    else:
        j = 0.5 / s - r / s**2 + (r**2 / s**3 * math.log(1.0 / r) if r > 0.0 else 0.0)
    return 0.5 / j


@dataclass(frozen=True, kw_only=True)
class LeafSpring:
    """A semi-elliptic spring of leaves clamped to the axle, carrying its load at the seat.

    Parameters
    ----------
    thicknesses : tuple of float
        Of every leaf, main leaf first [m].
    width : float
        [m].
    front_length, rear_length : float
        From the centre bolt to the eyes, along the main leaf made flat [m].
    full_length : int
        Number of leaves that reach the eyes, at least the main leaf.
    clamp_length : float
        Length that the U-bolts clamp [m].
    clamp_share : float
        Share of it that does not bend, 0.5 to 1 by common practice.
    elastic_modulus : float
        E [Pa].

    Raises
    ------
    DomainError
        If a dimension cannot be.

    Examples
    --------
    >>> spring = LeafSpring(
    ...     thicknesses=(0.008, 0.008, 0.008, 0.008), width=0.065, front_length=0.62, rear_length=0.68, full_length=1
    ... )
    >>> round(spring.rate / 1e3, 2)
    39.09
    """

    thicknesses: tuple[float, ...]
    width: float
    front_length: float
    rear_length: float
    full_length: int = 1
    clamp_length: float = 0.0
    clamp_share: float = 0.5
    elastic_modulus: float = 206e9

    def __post_init__(self) -> None:
        """Refuse a spring that cannot be."""
        if not self.thicknesses or not all(math.isfinite(t) and t > 0.0 for t in self.thicknesses):
            raise DomainError(
                f"leaf spring: the thicknesses are {self.thicknesses}; one positive number for each leaf is needed"
            )
        for name in ("width", "front_length", "rear_length", "elastic_modulus"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise DomainError(f"leaf spring: {name} is {value:g}; it must be positive")
        if not 1 <= self.full_length <= len(self.thicknesses):
            raise DomainError(
                f"leaf spring: {self.full_length} leaves of full length among {len(self.thicknesses)}; the main leaf "
                "at least reaches the eyes, and not more than all"
            )
        if not (self.clamp_length >= 0.0 and 0.0 <= self.clamp_share <= 1.0):
            raise DomainError(
                f"leaf spring: clamp length {self.clamp_length * 1e3:g} mm with a share of {self.clamp_share:g}; the "
                "length must not be negative and the share lies between 0 and 1"
            )
        if 0.5 * self.clamp_length * self.clamp_share >= min(self.front_length, self.rear_length):
            raise DomainError("leaf spring: the clamp is as long as the spring")

    @property
    def second_moment(self) -> float:
        """Sum of the leaves' second moments of area [m^4]."""
        return sum(self.width * t**3 / 12.0 for t in self.thicknesses)

    @property
    def stiffening(self) -> float:
        """Stiffening factor of the leaves of full length, by their share of the bending stiffness [-]."""
        own = sum(t**3 for t in self.thicknesses[: self.full_length])
        return stiffening_factor(own / sum(t**3 for t in self.thicknesses))

    @property
    def active_lengths(self) -> tuple[float, float]:
        """Cantilever lengths that bend, front and rear [m]."""
        dead = 0.5 * self.clamp_length * self.clamp_share
        return self.front_length - dead, self.rear_length - dead

    @cached_property
    def cantilever_rates(self) -> tuple[float, float]:
        """Load at an eye per its deflection, the seat held still, front and rear [N/m]."""
        front, rear = self.active_lengths
        base = 2.0 * self.elastic_modulus * self.second_moment * self.stiffening
        return base / front**3, base / rear**3

    @property
    def rate(self) -> float:
        """Load at the seat per its deflection, the seat free to tilt [N/m]."""
        k_front, k_rear = self.cantilever_rates
        a, b = self.front_length, self.rear_length
        return (a + b) ** 2 / (b**2 / k_front + a**2 / k_rear)

    @property
    def wind_up_rate(self) -> float:
        """Torque of the axle about its own line per its turn, the seat's height held [N m/rad]."""
        k_front, k_rear = self.cantilever_rates
        return k_front * self.front_length**2 + k_rear * self.rear_length**2

    def eye_loads(self, load: float) -> tuple[float, float]:
        """Return the shares of a load at the seat [N] that the front and the rear eye carry [N]."""
        total = self.front_length + self.rear_length
        return load * self.rear_length / total, load * self.front_length / total

    def stresses(self, load: float) -> Floats:
        """Return the bending stress at the clamp in every leaf under a load at the seat [N], nip apart [Pa].

        All leaves have the same curvature at the clamp, so the thick ones bear the higher stress; of the two halves the
        one with the larger moment counts.
        """
        moments = [f * length for f, length in zip(self.eye_loads(load), self.active_lengths, strict=True)]
        return max(moments) / self.second_moment * 0.5 * np.array(self.thicknesses)

    def torque_stresses(self, torque: float) -> Floats:
        """Return the stress that an axle torque [N m] adds at the clamp in every leaf, larger half [Pa]."""
        turn = torque / self.wind_up_rate
        moments = [
            k * turn * whole * active
            for k, whole, active in zip(
                self.cantilever_rates, (self.front_length, self.rear_length), self.active_lengths, strict=True
            )
        ]
        return max(moments, key=abs) / self.second_moment * 0.5 * np.array(self.thicknesses)


@dataclass(frozen=True, kw_only=True)
class NippedPack:
    """Leaves of one thickness, some of full length, the others graduated to points; half of the spring.

    Parameters
    ----------
    eye_load : float
        Load at one eye [N].
    cantilever : float
        From the centre bolt to the eye [m].
    width, thickness : float
        [m].
    full, graduated : int
        Number of leaves of full length and of graduated ones.
    elastic_modulus : float
        E [Pa].

    Raises
    ------
    DomainError
        If a number cannot be.

    References
    ----------
    .. [1] V. B. Bhandari, Design of Machine Elements, chapter 10, multi-leaf springs (by its printed results).
    """

    eye_load: float
    cantilever: float
    width: float
    thickness: float
    full: int
    graduated: int
    elastic_modulus: float = 207e9

    def __post_init__(self) -> None:
        """Refuse a pack that cannot be."""
        for name in ("eye_load", "cantilever", "width", "thickness", "elastic_modulus"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise DomainError(f"leaf pack: {name} is {value:g}; it must be positive")
        if self.full < 0 or self.graduated < 0 or self.full + self.graduated == 0:
            raise DomainError(f"leaf pack: {self.full} full-length and {self.graduated} graduated leaves; none is left")

    @property
    def _weight(self) -> float:
        return 3.0 * self.full + 2.0 * self.graduated

    @property
    def full_stress(self) -> float:
        """Stress in the leaves of full length without nip [Pa]."""
        return 18.0 * self.eye_load * self.cantilever / (self.width * self.thickness**2 * self._weight)

    @property
    def graduated_stress(self) -> float:
        """Stress in the graduated leaves without nip [Pa]."""
        return 12.0 * self.eye_load * self.cantilever / (self.width * self.thickness**2 * self._weight)

    @property
    def full_load(self) -> float:
        """Share of the eye load that the leaves of full length carry without nip [N]."""
        return self.eye_load * 3.0 * self.full / self._weight

    @property
    def deflection(self) -> float:
        """Deflection of the eye against the seat [m]."""
        return (
            12.0
            * self.eye_load
            * self.cantilever**3
            / (self.elastic_modulus * self.width * self.thickness**3 * self._weight)
        )

    @property
    def equal_stress(self) -> float:
        """Stress in every leaf if the nip makes all equal [Pa]."""
        count = self.full + self.graduated
        return 6.0 * self.eye_load * self.cantilever / (count * self.width * self.thickness**2)

    @property
    def nip(self) -> float:
        """Gap between full-length and graduated leaves before clamping that makes all stresses equal [m]."""
        count = self.full + self.graduated
        return (
            2.0 * self.eye_load * self.cantilever**3 / (self.elastic_modulus * count * self.width * self.thickness**3)
        )

    @property
    def bolt_load(self) -> float:
        """Load of the centre bolt that closes that nip [N]."""
        count = self.full + self.graduated
        return 2.0 * self.full * self.graduated * self.eye_load / (count * self._weight)


@dataclass(frozen=True, kw_only=True)
class TwoStageLeaf:
    """Main spring with a helper pack that touches its stops at some deflection.

    Parameters
    ----------
    main_rate, helper_rate : float
        [N/m].
    contact : float
        Deflection of the main spring from free at which the helper begins to carry [m].
    blend : float
        Deflection over which the helper comes in [m]; 0 for a sharp knee.

    Raises
    ------
    DomainError
        A rate or length that cannot be.
    """

    main_rate: float
    helper_rate: float
    contact: float
    blend: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a spring that cannot be."""
        if not (self.main_rate > 0.0 and self.helper_rate >= 0.0 and self.contact >= 0.0 and self.blend >= 0.0):
            raise DomainError(
                f"two-stage leaf spring: main rate {self.main_rate:g} N/m, helper rate {self.helper_rate:g} N/m, "
                f"contact at {self.contact * 1e3:g} mm, blend {self.blend * 1e3:g} mm; the main rate must be "
                "positive, the others must not be negative"
            )

    def force(self, deflection: Floats) -> Floats:
        """Return the load [N] at deflections from free [m]."""
        x = np.asarray(deflection, dtype=np.float64)
        over = x - self.contact
        if self.blend > 0.0:
            inside = np.clip(over, 0.0, self.blend)
            helper = 0.5 * inside**2 / self.blend + np.maximum(over - self.blend, 0.0)
        else:
            helper = np.maximum(over, 0.0)
        return np.asarray(self.main_rate * x + self.helper_rate * helper)

    def at_rate(self, rate: float) -> TwoStageLeaf:
        """Return the spring with another main rate [N/m]."""
        return replace(self, main_rate=rate)

    def rate(self, deflection: Floats) -> Floats:
        """Return the slope of `force` [N/m]."""
        over = np.asarray(deflection, dtype=np.float64) - self.contact
        share = np.clip(over / self.blend, 0.0, 1.0) if self.blend > 0.0 else (over > 0.0).astype(np.float64)
        return np.asarray(self.main_rate + self.helper_rate * share)


def friction_loop(deflection: Floats, centre: Floats, *, half_width: float, reversal: float, start: float) -> Floats:
    """Force of a leaf spring with friction between its leaves along a history of deflection.

    Parameters
    ----------
    deflection : array (n,)
        History, compression positive [m].
    centre : array (n,)
        Force of the spring without friction at each of them [N].
    half_width : float
        Half the distance between the loading and the unloading envelope [N].
    reversal : float
        Deflection over which the force goes from one envelope to the other (beta) [m].
    start : float
        Force at the first deflection [N].

    Returns
    -------
    array (n,)
        [N]. The force depends on the path, not on the speed. On a sloping centre it lags its envelope by the slope
        times `reversal`, so a measured loop is `half_width` less that; steps well below `reversal` are needed there.

    Raises
    ------
    DomainError
        A negative half-width, a reversal that is not positive, or histories of different length.

    References
    ----------
    .. [1] P. S. Fancher, R. D. Ervin, C. C. MacAdam, C. B. Winkler, Measurement and representation of the mechanical
       properties of truck leaf springs, SAE 800905, 1980 (from memory).

    Examples
    --------
    >>> x = np.array([0.0, 0.01, 0.02, 0.01])
    >>> friction_loop(x, 40e3 * x, half_width=300.0, reversal=0.002, start=0.0).round(0)
    array([   0.,  695., 1097.,  107.])
    """
    x, middle = np.asarray(deflection, dtype=np.float64), np.asarray(centre, dtype=np.float64)
    if x.ndim != 1 or x.shape != middle.shape or x.size == 0:
        raise DomainError(f"friction loop: {x.shape} deflections with {middle.shape} forces; one force for each")
    if not (half_width >= 0.0 and reversal > 0.0):
        raise DomainError(
            f"friction loop: half-width {half_width:g} N and reversal {reversal * 1e3:g} mm; the first must not be "
            "negative, the second must be positive"
        )
    force = np.empty_like(x)
    force[0] = start
    for i in range(1, x.size):
        step = x[i] - x[i - 1]
        envelope = middle[i] + math.copysign(half_width, step)
        force[i] = (
            force[i - 1] if step == 0.0 else envelope + (force[i - 1] - envelope) * math.exp(-abs(step) / reversal)
        )
    return force


def parabolic_deflection(*, load: float, length: float, elastic_modulus: float, root_second_moment: float) -> float:
    """Return the deflection of a parabolic leaf, a cantilever of uniform stress and width [m].

    Parameters
    ----------
    load : float
        At its end [N].
    length : float
        [m].
    elastic_modulus : float
        [Pa].
    root_second_moment : float
        Second moment of area at the root [m^4].
    """
    if not (length > 0.0 and elastic_modulus > 0.0 and root_second_moment > 0.0):
        raise DomainError(
            f"parabolic leaf: length {length:g} m, modulus {elastic_modulus:g} Pa, second moment "
            f"{root_second_moment:g} m^4; all must be positive"
        )
    return 2.0 * load * length**3 / (3.0 * elastic_modulus * root_second_moment)
