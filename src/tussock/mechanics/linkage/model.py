"""A linkage as plain data: bodies, joints and prescribed coordinates, turned into the flat arrays of the kernels.

Points are given in chassis axes (ISO 8855) in the stock pose, in which every body frame is parallel to the chassis.
A joint has one point on each of its two bodies; they coincide in the stock pose unless a part was changed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats, Ints

BodyKind = Literal["carrier", "free", "hinge", "slide"]
CHASSIS = "chassis"
KINDS: dict[str, int] = {"carrier": 0, "free": 1, "hinge": 2, "slide": 3}
WIDTH: dict[str, int] = {"carrier": 6, "free": 6, "hinge": 1, "slide": 1}
COORDINATES: dict[str, tuple[str, ...]] = {
    "carrier": ("x", "y", "z", "yaw", "pitch", "roll"),
    "free": ("x", "y", "z", "turn about x", "turn about y", "turn about z"),
    "hinge": ("angle",),
    "slide": ("travel",),
}
#: Metres that a radian counts for where steps and sizes of coordinates are compared.
RADIAN_ARM = 0.5


@dataclass(frozen=True, kw_only=True)
class Body:
    """One rigid body.

    Attributes
    ----------
    name : str
        Its name in the linkage.
    kind : {'carrier', 'free', 'hinge', 'slide'}
        Carrier: x, y, z, yaw, pitch, roll as coordinates; free: six coordinates without a singular pose; hinge: the
        angle about an axis fixed in `parent`; slide: the travel along such an axis.
    at : array (3,)
        Reference point in the stock pose [m].
    parent : str
        Body that carries the axis of a hinge or slide.
    anchor, axis : array (3,)
        Point on the axis [m] and its direction [-] in the stock pose.
    """

    name: str
    kind: BodyKind
    at: Floats
    parent: str = CHASSIS
    anchor: Floats | None = None
    axis: Floats | None = None


@dataclass(frozen=True, kw_only=True)
class Row:
    """Law of one joint row: hard, or force = rate r + progressive max(|r| - gap, 0)^2 sign(r).

    Units of a translation [N/m, N/m^2, m]; of an angle [N m/rad, N m/rad^2, rad].
    """

    hard: bool = False
    rate: float = 0.0
    progressive: float = 0.0
    gap: float = 0.0


HARD = Row(hard=True)


@dataclass(frozen=True, kw_only=True)
class Rod:
    """Straight rod between ball ends; `law` hard, or its stiffness with that of its end bushes in series [N/m].

    `spring` marks one that carries a load at rest, so that its stretch is no error.
    """

    name: str
    body_a: str
    body_b: str
    point_a: Floats
    point_b: Floats
    length: float
    law: Row = HARD
    spring: bool = False


@dataclass(frozen=True, kw_only=True)
class Joint:
    """Joint of six rows in a frame fixed in A: three translations, two cone angles (sines), twist about the third axis.

    ``frame_a`` and ``frame_b`` hold the three axes as rows, fixed in A and B; parallel in the unloaded joint.
    An absent row is None. `spring` marks a joint that carries a load at rest.
    """

    name: str
    body_a: str
    body_b: str
    point_a: Floats
    point_b: Floats
    rows: tuple[Row | None, Row | None, Row | None, Row | None, Row | None, Row | None]
    frame_a: Floats = field(default_factory=lambda: np.eye(3))
    frame_b: Floats = field(default_factory=lambda: np.eye(3))
    spring: bool = False


class Tables(NamedTuple):
    """Flat arrays that the kernels read; shapes in the header of the kernels' module."""

    bi: Ints
    bf: Floats
    cols: Ints
    pairs: Ints
    ei: Ints
    ef: Floats
    ek: Floats
    free: Ints
    held: Ints
    scale: Floats


@dataclass(frozen=True, kw_only=True)
class Linkage:
    """Bodies, joints and the coordinates that are prescribed, checked and laid out for the solver.

    Attributes
    ----------
    bodies, elements : tuple
        In the order of the arrays; the chassis is not listed.
    held : tuple of (body, coordinate)
        Prescribed coordinates in the order of the inputs.
    tables : Tables
        The flat arrays.
    start : array (n,)
        Coordinates of the stock pose.
    hard_rows : tuple of str
        Name of the joint that each hard row belongs to.
    """

    bodies: tuple[Body, ...]
    elements: tuple[Rod | Joint, ...]
    held: tuple[tuple[str, str], ...]
    tables: Tables
    start: Floats
    hard_rows: tuple[str, ...]
    index: Mapping[str, int]

    def coordinate_name(self, number: int) -> str:
        """Words for one coordinate, such as ``axle: pitch``."""
        for k, body in enumerate(self.bodies):
            first = int(self.tables.bi[k, 2])
            if first <= number < first + WIDTH[body.kind]:
                return f"{body.name}: {COORDINATES[body.kind][number - first]}"
        raise InputError(f"coordinate {number} does not exist; this linkage has {self.start.size}")


def build_linkage(bodies: Sequence[Body], elements: Sequence[Rod | Joint], held: Sequence[tuple[str, str]]) -> Linkage:
    """Lay out a linkage for the solver.

    Parameters
    ----------
    bodies : sequence of Body
        Parents before the bodies that they carry.
    elements : sequence of Rod or Joint
    held : sequence of (body name, coordinate name)
        Coordinates that are prescribed, such as ``("axle", "z")``.

    Returns
    -------
    Linkage

    Raises
    ------
    InputError
        Unknown body, coordinate or parent; a rod of no length; an axis of no length; a point that is not finite.
    """
    index: dict[str, int] = {}
    bi = np.zeros((len(bodies), 5), dtype=np.int64)
    bf = np.zeros((len(bodies), 9))
    chains: list[list[int]] = []
    start: list[float] = []
    scale: list[float] = []
    home = {CHASSIS: np.zeros(3)}
    for k, body in enumerate(bodies):
        if body.name in home:
            raise InputError(f"body '{body.name}' is given twice; every body needs a name of its own")
        if body.parent not in home:
            raise InputError(f"body '{body.name}' hangs on '{body.parent}', which is not a body listed before it")
        at = _point(body.at, f"reference point of body '{body.name}'")
        first = len(start)
        own = list(range(first, first + WIDTH[body.kind]))
        up = index.get(body.parent, -1) if body.kind in ("hinge", "slide") else -1
        chains.append(own + (chains[up] if up >= 0 else []))
        bi[k, :4] = KINDS[body.kind], up, first, len(chains[k])
        if body.kind in ("hinge", "slide"):
            if body.anchor is None or body.axis is None:
                raise InputError(f"body '{body.name}' is a {body.kind} and needs an anchor point and an axis")
            axis = _point(body.axis, f"axis of body '{body.name}'")
            size = float(np.linalg.norm(axis))
            if size < 1e-9:
                raise InputError(f"the axis of body '{body.name}' has no length; its two points coincide")
            anchor = _point(body.anchor, f"anchor of body '{body.name}'")
            bf[k, 0:3] = axis / size
            bf[k, 3:6] = anchor - home[body.parent]
            bf[k, 6:9] = at - anchor
            start.append(0.0)
            scale.append(RADIAN_ARM if body.kind == "hinge" else 1.0)
        else:
            start.extend([*at, 0.0, 0.0, 0.0])
            scale.extend([1.0, 1.0, 1.0, RADIAN_ARM, RADIAN_ARM, RADIAN_ARM])
        index[body.name] = k
        home[body.name] = at
    cols = np.zeros((len(bodies), max(map(len, chains))), dtype=np.int64)
    for k, chain in enumerate(chains):
        cols[k, : len(chain)] = chain
    pairs: dict[tuple[int, int], int] = {(k, k): k for k in range(len(bodies))}
    bi[:, 4] = np.arange(len(bodies))
    ei = np.zeros((len(elements), 14), dtype=np.int64)
    ef = np.zeros((len(elements), 25))
    ek = np.zeros((len(elements), 18))
    hard_rows: list[str] = []
    for e, element in enumerate(elements):
        ends = []
        for name in (element.body_a, element.body_b):
            if name not in home:
                raise InputError(f"joint '{element.name}' names the body '{name}', which does not exist")
            ends.append(index.get(name, -1))
        a, b = ends
        if a == b:
            raise InputError(f"joint '{element.name}' has both ends on '{element.body_a}'; it can hold nothing")
        ef[e, 0:3] = _point(element.point_a, f"first end of '{element.name}'") - home[element.body_a]
        ef[e, 3:6] = _point(element.point_b, f"second end of '{element.name}'") - home[element.body_b]
        laws: Sequence[Row | None]
        if isinstance(element, Rod):
            if not element.length > 1e-6:
                raise InputError(
                    f"rod '{element.name}' has a length of {1e3 * element.length:.3f} mm between its ends; "
                    "it needs two ends that lie apart"
                )
            ef[e, 24] = element.length
            laws = (element.law,)
        else:
            ei[e, 0] = 1
            ef[e, 6:15] = element.frame_a.ravel()
            ef[e, 15:24] = element.frame_b.ravel()
            laws = element.rows
        ei[e, 1:4] = a, b, len(hard_rows)
        for w, law in enumerate(laws):
            if law is None:
                continue
            ei[e, 4 + w] = 2 if law.hard else 1
            ek[e, 3 * w : 3 * w + 3] = law.rate, law.progressive, law.gap
            if law.hard:
                hard_rows.append(element.name)
        ei[e, 10:13] = a, b, -1
        if a >= 0 and b >= 0:
            ei[e, 12] = pairs.setdefault((max(a, b), min(a, b)), len(pairs))
        ei[e, 13] = int(a > b)
    names = [(body.name, word) for body in bodies for word in COORDINATES[body.kind]]
    for wanted in held:
        if wanted not in names:
            raise InputError(f"prescribed coordinate {wanted[0]}: {wanted[1]} does not exist in this linkage")
    fixed = [names.index(wanted) for wanted in held]
    tables = Tables(
        bi=bi,
        bf=bf,
        cols=cols,
        pairs=np.array(list(pairs), dtype=np.int64),
        ei=ei,
        ef=ef,
        ek=ek,
        free=np.array([i for i in range(len(start)) if i not in fixed], dtype=np.int64),
        held=np.array(fixed, dtype=np.int64),
        scale=np.array(scale),
    )
    return Linkage(
        bodies=tuple(bodies),
        elements=tuple(elements),
        held=tuple(held),
        tables=tables,
        start=np.array(start),
        hard_rows=tuple(hard_rows),
        index=index,
    )


def _point(value: Floats, what: str) -> Floats:
    """Check one point or direction."""
    point = np.asarray(value, dtype=np.float64)
    if point.shape != (3,):
        raise InputError(f"{what}: three coordinates are needed, found an array of shape {point.shape}")
    if not np.all(np.isfinite(point)):
        raise InputError(f"{what}: {point.tolist()} holds a number that is not finite")
    return point


__all__ = [
    "CHASSIS",
    "HARD",
    "RADIAN_ARM",
    "Body",
    "Joint",
    "Linkage",
    "Rod",
    "Row",
    "Tables",
    "build_linkage",
]
