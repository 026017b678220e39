"""Which hardpoint moves which characteristic, and how uncertain the characteristics are that uncertain points give.

Every coordinate of every hardpoint is moved up and down by a small step, the suspension is built and solved anew, and
the characteristics are compared (central differences). The solver's answers are exact to about 1e-9 m, so that a
step of 0.2 mm leaves derivatives good to about 1e-5 of their size. Building takes a few milliseconds: some tens of
points take less than a second or two. Implicit differentiation would need the derivative of every part's
rest by every point, kit parts, leaf springs and bush frames included, and would gain little.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple, TypeVar

import numpy as np

from tussock.errors import InputError, MechanicsError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.axle import Axle
from tussock.mechanics.linkage.characteristics import sweep
from tussock.mechanics.linkage.hardpoints import MIRROR
from tussock.mechanics.linkage.steering import steer_slopes, wheels
from tussock.mechanics.linkage.wheel import Wheel
from tussock.mechanics.linkage.wheel_sweep import sweep_wheel

S = TypeVar("S")
#: Step of the central difference [m].
STEP = 2e-4


class Characteristic(NamedTuple):
    """Words for a characteristic and its SI unit (`m`, `rad`, `-`, `rad/m`, ...)."""

    title: str
    unit: str


CHARACTERISTICS: Mapping[str, Characteristic] = {
    "lateral_shift": Characteristic("movement of the axle to the left", "m"),
    "lateral_per_heave": Characteristic("movement of the axle to the left by heave", "-"),
    "axle_steer": Characteristic("yaw of the axle, left", "rad"),
    "steer_per_heave": Characteristic("road steer, left, by heave", "rad/m"),
    "roll_steer": Characteristic("road steer, left, by roll", "-"),
    "caster_change": Characteristic("gain of caster since stock", "rad"),
    "caster_per_heave": Characteristic("gain of caster by heave", "rad/m"),
    "roll_centre_height": Characteristic("height of the roll centre", "m"),
    "contact_slope": Characteristic("forward movement of the contact patches by heave", "-"),
    "spring_ratio": Characteristic("motion ratio of the springs in heave", "-"),
    "spring_roll_ratio": Characteristic("shortening of the left spring by roll", "m/rad"),
    "heave_force": Characteristic("force of bushes and leaves in heave", "N"),
    "heave_rate": Characteristic("rate of bushes and leaves in heave", "N/m"),
    "roll_rate": Characteristic("rate of bushes and leaves in roll", "N m/rad"),
    "toe": Characteristic("toe-in", "rad"),
    "camber": Characteristic("camber, top outward", "rad"),
    "caster": Characteristic("caster", "rad"),
    "king_pin_inclination": Characteristic("inclination of the steering axis, top inward", "rad"),
    "caster_offset": Characteristic("trail at the ground", "m"),
    "king_pin_offset": Characteristic("scrub radius at the ground", "m"),
    "bump_steer": Characteristic("toe-in by travel", "rad/m"),
    "bump_camber": Characteristic("camber by travel", "rad/m"),
    "bump_caster": Characteristic("caster by travel", "rad/m"),
    "side_slope": Characteristic("outward movement of the contact patch by travel", "-"),
    "centre_slope": Characteristic("forward movement of the wheel centre by travel", "-"),
}


@dataclass(frozen=True, kw_only=True)
class Sensitivity:
    """Derivatives of characteristics by hardpoint coordinates.

    Attributes
    ----------
    characteristics, hardpoints : tuple of str
        Rows and columns; a hardpoint ending in ``_right`` is the right one alone.
    values : array (nc,)
        Characteristics at the given points [SI].
    derivative : array (nc, np, 3)
        By x, y, z of each hardpoint [SI per m]. A paired point given on the left moves its mirror image with it, unless
        the sides were taken apart.
    """

    characteristics: tuple[str, ...]
    hardpoints: tuple[str, ...]
    values: Floats
    derivative: Floats

    def strongest(self, characteristic: str, count: int = 5) -> list[tuple[str, float]]:
        """Hardpoint coordinates that move a characteristic most, such as ``("track_rod_axle.z", 0.52)``."""
        row = self.derivative[self._row(characteristic)]
        order = np.argsort(-np.abs(row), axis=None)[:count]
        return [(f"{self.hardpoints[k // 3]}.{'xyz'[k % 3]}", float(row.ravel()[k])) for k in order]

    def spread(self, tolerances: Mapping[str, float]) -> Spread:
        """Standard uncertainty of every characteristic from that of the hardpoints, taken as independent.

        Parameters
        ----------
        tolerances : mapping of hardpoint to float
            Standard uncertainty of each of its coordinates [m]; a point that is not named counts as exact. A name of a
            left point counts for the right one too where the sides were taken apart.

        Raises
        ------
        InputError
            A name that is no hardpoint, a number below zero.
        """
        known = set(self.hardpoints)
        for name, value in tolerances.items():
            if name not in known:
                raise InputError(f"an uncertainty is given for '{name}', which is none of the hardpoints")
            if not (np.isfinite(value) and value >= 0.0):
                raise InputError(f"the uncertainty of '{name}' is {value} m; it must not be negative")
        each = np.array([tolerances.get(n, tolerances.get(n.removesuffix("_right"), 0.0)) for n in self.hardpoints])
        shares = np.linalg.norm(self.derivative, axis=2) * each
        return Spread(
            characteristics=self.characteristics,
            hardpoints=self.hardpoints,
            values=self.values,
            total=np.linalg.norm(shares, axis=1),
            shares=shares,
        )

    def _row(self, characteristic: str) -> int:
        if characteristic not in self.characteristics:
            raise InputError(
                f"'{characteristic}' is none of the characteristics; they are {', '.join(self.characteristics)}"
            )
        return self.characteristics.index(characteristic)


@dataclass(frozen=True, kw_only=True)
class Spread:
    """Characteristics with their standard uncertainty.

    `total` (nc,) goes with `values` (nc,); `shares` (nc, np) is what each hardpoint alone would make [SI].
    """

    characteristics: tuple[str, ...]
    hardpoints: tuple[str, ...]
    values: Floats
    total: Floats
    shares: Floats


def axle_characteristics(axle: Axle, heave: float = 0.0) -> dict[str, float]:
    """Characteristics of a rigid axle at a heave [m] and no roll, by name; words and units in `CHARACTERISTICS`."""
    curves = sweep(axle, np.array([heave]), np.zeros(1))
    s = axle.solve(np.array([heave]), np.zeros(1))
    slope = s.slope[0]
    steer = slope[3, :2].copy()
    if axle.steers:
        spins, _ = wheels(axle, s)
        steer += steer_slopes(axle, s, spins)[0, :, :2].mean(axis=0)
    found = {
        "lateral_shift": float(curves.lateral_shift[0, 0]),
        "lateral_per_heave": float(slope[1, 0]),
        "axle_steer": float(curves.axle_steer[0, 0]),
        "steer_per_heave": float(steer[0]),
        "roll_steer": float(steer[1]),
        "caster_change": float(curves.caster_change[0, 0]),
        "caster_per_heave": -float(slope[4, 0]),
        "roll_centre_height": float(curves.roll_centre_height[0, 0]),
        "contact_slope": float(curves.contact_slope[0, 0]),
        "heave_force": float(curves.heave_force[0, 0]),
        "heave_rate": float(curves.heave_rate[0, 0]),
        "roll_rate": float(curves.roll_rate[0, 0]),
    }
    if axle.steers:
        found["toe"] = 0.5 * float(curves.total_toe[0, 0])
    if curves.caster is not None and curves.king_pin_inclination is not None:
        found["caster"] = float(curves.caster[0, 0].mean())
        found["king_pin_inclination"] = float(curves.king_pin_inclination[0, 0].mean())
    if "spring" in curves.lengths:
        found["spring_ratio"] = float(curves.lengths["spring"].heave_ratio[0, 0].mean())
        found["spring_roll_ratio"] = float(curves.lengths["spring"].roll_ratio[0, 0, 0])
    return found


def wheel_characteristics(wheel: Wheel, travel: float = 0.0) -> dict[str, float]:
    """Characteristics of an independent wheel at a travel [m], straight ahead; words, units in `CHARACTERISTICS`."""
    curves = sweep_wheel(wheel, np.array([travel]))
    names = (
        "toe", "camber", "caster", "king_pin_inclination", "caster_offset", "king_pin_offset", "bump_steer",
        "bump_camber", "bump_caster", "roll_centre_height", "side_slope", "contact_slope", "centre_slope",
    )  # fmt: skip
    found = {name: float(getattr(curves, name)[0, 0]) for name in names}
    if "spring" in curves.lengths:
        found["spring_ratio"] = float(curves.lengths["spring"].ratio[0, 0])
    return found


def sensitivity(
    build: Callable[[Mapping[str, Floats]], S],
    hardpoints: Mapping[str, Floats],
    measure: Callable[[S], Mapping[str, float]],
    *,
    sides: Literal["together", "apart"] = "together",
    step: float = STEP,
) -> Sensitivity:
    """Derivative of every characteristic by every coordinate of every hardpoint.

    Parameters
    ----------
    build : callable
        Makes the axle or the wheel from hardpoints, everything else being fixed.
    hardpoints : mapping of name to array (3,)
        As for `build_axle` or `build_wheel` [m].
    measure : callable
        Gives the characteristics by name, such as `axle_characteristics`.
    sides : {'together', 'apart'}
        Whether a point given on the left alone moves its mirror image with it (a change of design, or of a jig) or each
        side moves by itself (a measuring error).
    step : float
        Of the central difference [m].

    Returns
    -------
    Sensitivity

    Raises
    ------
    InputError, SolverError
        The suspension cannot be built or solved as given or with one coordinate moved; the text names it.

    Examples
    --------
    >>> import numpy as np
    >>> from tussock.mechanics.linkage import axle_characteristics, build_axle, sensitivity
    >>> points = {
    ...     "wheel_centre": (-2.7, 0.75, 0.36),
    ...     "lower_link_axle": (-2.7, 0.45, 0.30), "lower_link_chassis": (-2.0, 0.45, 0.30),
    ...     "upper_link_axle": (-2.7, 0.0, 0.50), "upper_link_chassis": (-2.2, 0.0, 0.50),
    ...     "track_rod_axle": (-2.8, -0.45, 0.40), "track_rod_chassis": (-2.8, 0.45, 0.46),
    ... }
    >>> table = {name: np.array(point) for name, point in points.items()}
    >>> def build(table):
    ...     return build_axle("links_track_rod", table, wheel_radius=0.36, central={"upper_link"})
    >>> found = sensitivity(build, table, axle_characteristics)
    >>> [name for name, _ in found.strongest("roll_centre_height", 2)]  # the ground goes with the wheels
    ['wheel_centre.z', 'track_rod_chassis.z']
    """
    table = {name: np.asarray(point, dtype=np.float64).copy() for name, point in hardpoints.items()}
    if sides == "apart":
        table = _apart(build, table)
    base = measure(build(table))
    names, points = tuple(base), tuple(table)
    derivative = np.zeros((len(names), len(points), 3))
    for k, name in enumerate(points):
        for axis in range(3):
            ends = []
            for sign in (1.0, -1.0):
                moved = table[name].copy()
                moved[axis] += sign * step
                try:
                    ends.append(measure(build({**table, name: moved})))
                except MechanicsError as error:
                    raise type(error)(f"with {name}.{'xyz'[axis]} moved by {1e3 * sign * step:g} mm: {error}") from None
            for row, characteristic in enumerate(names):
                derivative[row, k, axis] = (ends[0][characteristic] - ends[1][characteristic]) / (2.0 * step)
    return Sensitivity(
        characteristics=names, hardpoints=points, values=np.array(list(base.values())), derivative=derivative
    )


def _apart(build: Callable[[Mapping[str, Floats]], S], table: dict[str, Floats]) -> dict[str, Floats]:
    """The same points with the right side written out wherever it exists."""
    written = dict(table)
    for name, point in table.items():
        right = f"{name.removesuffix('_left')}_right"
        if name.endswith("_right") or right in table:
            continue
        try:
            build({**table, right: point * MIRROR})
        except InputError:
            # it stands once
            continue
        written[right] = point * MIRROR
    return written
