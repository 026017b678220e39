"""Leaf springs as part of a rigid axle's linkage: three links per side, whose joints carry the spring's stiffness.

Each half of a spring is a straight link from its eye to a joint on the axle. The joint lies on the clamp's line at the
place that gives the eye of a bending leaf its path; it is three hinges in series (up, sideways, about the link's own
line) with a rate each. So the spring shortens as it bends, winds up, swings its shackle and steers the axle, and its
load is in the energy.

Sideways, a shackle is as stiff as the cone rates of its bushes over its length squared. Soft ones there (rates of a
plain round bush instead of a shackle with its plates) let the axle roll about its spring seats rather than the eyes.

References
----------
.. [1] SAE Spring Committee, Manual on Design and Application of Leaf Springs (part of Spring Design Manual, AE-11): the
   three-link equivalent with a link of 0.75 of the cantilever (from memory).
.. [2] P. Jayakumar, J. Alanoly, R. Johnson, Three-link leaf-spring model for road loads, SAE 2005-01-0625 (from
   memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.hardpoints import Hardpoints
from tussock.mechanics.linkage.layouts import BodyRow
from tussock.mechanics.linkage.model import Body, Joint, Row
from tussock.mechanics.springs.leaf import LeafSpring, TwoStageLeaf


class LeafShape(NamedTuple):
    """How a kind of leaf bends under a load at its eye, as far as it sets the eye's path.

    Attributes
    ----------
    link : float
        Length of the link over that of the free cantilever.
    arc : float
        How far the joint lies below the clamp's line, over the rise of the free eye above it: a leaf that is an arc
        when free but does not bend to one.
    """

    link: float
    arc: float


#: Leaves of uniform strength bend to arcs, those of uniform section as cubics, parabolic ones more towards the eye.
#: Derived: the eye comes in by half the integral of the squared slope; the link's path has the same first two terms.
UNIFORM_STRENGTH = LeafShape(3.0 / 4.0, 0.0)
UNIFORM_SECTION = LeafShape(5.0 / 6.0, 1.0 / 24.0)
PARABOLIC = LeafShape(2.0 / 3.0, -1.0 / 15.0)
#: Poisson's ratio of spring steel, for the shear modulus.
POISSON = 0.29
#: Rounds in which a joint's place and the free rise of its eye settle together.
SETTLING_ROUNDS = 4
SEAT = "leaf_seat"
SEAT_LINE = "leaf_seat_front"
UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, kw_only=True)
class LeafHalf:
    """One half of a leaf spring, from the clamp to an eye, as a cantilever whose clamp is held.

    Attributes
    ----------
    rate : float
        Load at the eye per its deflection [N/m].
    lateral : float
        Sideways load at the eye per its deflection [N/m].
    torsion : float
        Moment about the leaf's line per its turn [N m/rad].
    progressive, gap : float
        Further load ``progressive max(|deflection| - gap, 0)^2``, the deflection counted from free [N/m^2], [m].
    """

    rate: float
    lateral: float
    torsion: float
    progressive: float = 0.0
    gap: float = 0.0

    def __post_init__(self) -> None:
        """Refuse rates that cannot be."""
        for word in ("rate", "lateral", "torsion"):
            value = getattr(self, word)
            if not (np.isfinite(value) and value > 0.0):
                raise InputError(f"half of a leaf spring: {word} is {value}; it must be above zero")
        for word in ("progressive", "gap"):
            value = getattr(self, word)
            if not (np.isfinite(value) and value >= 0.0):
                raise InputError(f"half of a leaf spring: {word} is {value}; it must not be negative")


@dataclass(frozen=True, kw_only=True)
class LeafSprings:
    """The pair of leaf springs of an axle, both alike.

    Attributes
    ----------
    front, rear : LeafHalf
        Of the eye that lies in front of the seat, and of the one behind it.
    clamp : float
        Length about the centre bolt that does not bend [m].
    load : float, optional
        Force that one spring carries at the axle, upward on the body, if held in the stock pose [N].
    free_camber : float, optional
        Height of the line through the eyes above the seat, along the spring's own up, with nothing on it [m]. Give this
        or `load`.
    shape : LeafShape
        `UNIFORM_STRENGTH`, `UNIFORM_SECTION`, `PARABOLIC` or `graduated_shape`.
    friction : float
        Half-width of the load's band by friction between the leaves, at one seat [N]. It is not in the equilibrium.
    """

    front: LeafHalf
    rear: LeafHalf
    clamp: float = 0.0
    load: float | None = None
    free_camber: float | None = None
    shape: LeafShape = UNIFORM_STRENGTH
    friction: float = 0.0

    def __post_init__(self) -> None:
        """Refuse springs that cannot be."""
        if (self.load is None) == (self.free_camber is None):
            raise InputError("leaf springs: give either the load in the stock pose or the free camber")
        given = self.load if self.load is not None else self.free_camber
        if given is None or not np.isfinite(given):
            raise InputError(f"leaf springs: load or free camber is {given}; it must be a finite number")
        if not (np.isfinite(self.clamp) and self.clamp >= 0.0 and self.friction >= 0.0):
            raise InputError(
                f"leaf springs: a clamp of {self.clamp} m and a friction of {self.friction} N; neither may be negative"
            )
        if not (0.5 < self.shape.link < 1.0 and abs(self.shape.arc) < 0.2):
            raise InputError(
                f"leaf springs: the link is {self.shape.link} of the cantilever, its joint off by {self.shape.arc}; "
                "0.75 and 0 for leaves of uniform strength, 5/6 and 1/24 for uniform section"
            )


def graduated_shape(full_length_share: float) -> LeafShape:
    """Shape of graduated leaves of which some have full length, by their share of the bending stiffness (0 to 1)."""
    if not 0.0 <= full_length_share <= 1.0:
        raise InputError(f"leaf springs: the share of full-length leaves is {full_length_share}; it lies within 0 to 1")
    s = np.linspace(0.0, 1.0, 4001)
    u = 1.0 - s
    with np.errstate(invalid="ignore"):
        bend = np.where(u > 0.0, u / (full_length_share + (1.0 - full_length_share) * u), 0.0)
    if full_length_share == 0.0:
        bend[-1] = 1.0
    slope = np.concatenate([[0.0], np.cumsum(0.5 * (bend[1:] + bend[:-1]) * np.diff(s))])
    rise = float(np.trapezoid(slope, s))
    link = rise**2 / float(np.trapezoid(slope**2, s))
    return LeafShape(link, 2.0 * float(np.trapezoid(s * slope, s)) / rise * link - 1.0)


def leaf_halves(spring: LeafSpring) -> tuple[LeafHalf, LeafHalf]:
    """Front and rear half of a spring given as a list of leaves.

    Sideways and in torsion only the leaves of full length count, whole from clamp to eye; the shorter ones stiffen
    these a little more.
    """
    full = spring.thicknesses[: spring.full_length]
    shear = spring.elastic_modulus / (2.0 * (1.0 + POISSON))
    flat = sum(t * spring.width**3 / 12.0 for t in full)
    twist = sum(spring.width * t**3 / 3.0 * (1.0 - 0.63 * t / spring.width) for t in full)
    front, rear = (
        LeafHalf(
            rate=rate, lateral=3.0 * spring.elastic_modulus * flat / length**3, torsion=shear * twist / length
        )
        for rate, length in zip(spring.cantilever_rates, spring.active_lengths, strict=True)
    )  # fmt: skip
    return front, rear


class TwoStageFit(NamedTuple):
    """Halves that follow a two-stage spring over a range, and the largest error of the load at the seat [N]."""

    front: LeafHalf
    rear: LeafHalf
    error: float


def fit_two_stage(front: LeafHalf, rear: LeafHalf, spring: TwoStageLeaf, *, deflection: float) -> TwoStageFit:
    """Give two halves the progressive law that follows a two-stage spring up to a deflection.

    The law of a joint grows with the square beyond its gap, a helper spring comes in with a knee: gap and growth are
    fitted (least squares of the load), the main rate is kept.

    Parameters
    ----------
    front, rear : LeafHalf
        Of the main spring; their rates are scaled so that both together have its `main_rate`.
    spring : TwoStageLeaf
    deflection : float
        Largest deflection at the seat from free [m].

    Returns
    -------
    TwoStageFit
    """
    from scipy.optimize import minimize_scalar

    if not deflection > spring.contact:
        raise InputError(
            f"two-stage leaf spring: a fit up to {1e3 * deflection:.0f} mm does not reach the helper's contact at "
            f"{1e3 * spring.contact:.0f} mm"
        )
    x = np.linspace(0.0, deflection, 400)
    helper = spring.force(x) - spring.main_rate * x

    def growth(gap: float) -> tuple[float, Floats]:
        shape = np.maximum(x - gap, 0.0) ** 2
        size = float(shape @ helper / (shape @ shape))
        return size, size * shape - helper

    best = minimize_scalar(
        lambda gap: float(np.sum(growth(gap)[1] ** 2)), bounds=(0.0, 0.98 * deflection), method="bounded"
    )
    gap = float(best.x)
    size, error = growth(gap)
    whole = front.rate + rear.rate
    halves = [
        replace(
            half,
            rate=spring.main_rate * half.rate / whole,
            progressive=size * half.rate / whole,
            gap=gap,
        )
        for half in (front, rear)
    ]
    return TwoStageFit(halves[0], halves[1], float(np.abs(error).max()))


@dataclass(frozen=True, kw_only=True)
class LeafGeometry:
    """One half of one spring in the stock pose.

    Attributes
    ----------
    eye, joint : array (3,)
        Ends of the link [m].
    length : float
        Free cantilever, along the leaf made flat, from the clamp's edge to the eye [m].
    frame : array (3, 3)
        Rows: along the link to the eye, up, and the axis about which the eye rises.
    angle : float
        Of the link above the clamp's line [rad].
    """

    eye: Floats
    joint: Floats
    length: float
    frame: Floats
    angle: float


def leaf_geometry(points: Hardpoints, eye: str, side: str, springs: LeafSprings, rise: float = 0.0) -> LeafGeometry:
    """Link of one half; the cantilever's length follows from the measured points.

    `rise` is the height of its free eye above the clamp's line [m].

    Raises
    ------
    InputError
        The eye lies over the clamp.
    """
    seat, at, ahead = points.stock(SEAT, side), points.stock(eye, side), _seat_line(points, side)
    outward = ahead if float((at - seat) @ ahead) > 0.0 else -ahead
    rising = np.cross(outward, UP)
    rising /= np.linalg.norm(rising)
    level = np.cross(rising, outward)
    span = at - seat - outward * 0.5 * springs.clamp + level * springs.shape.arc * rise
    along, r = float(span @ outward), springs.shape.link
    if not along > 0.05:
        raise InputError(
            f"{points.name}: '{eye}' lies {1e3 * along:.0f} mm from the edge of the clamp along the spring; a leaf "
            "needs some length to bend (is the clamp in metres?)"
        )
    # |span - (1 - r) L outward| = r L
    b = (1.0 - r) * along
    length = (-b + np.sqrt(b * b + (2.0 * r - 1.0) * float(span @ span))) / (2.0 * r - 1.0)
    joint = at - span + outward * (1.0 - r) * length
    first = (at - joint) / np.linalg.norm(at - joint)
    third = rising - first * float(rising @ first)
    third /= np.linalg.norm(third)
    return LeafGeometry(
        eye=at,
        joint=joint,
        length=float(length),
        frame=np.array([first, np.cross(third, first), third]),
        angle=float(np.arctan2(first @ level, first @ outward)),
    )


def _seat_line(points: Hardpoints, side: str) -> Floats:
    """Forward direction of the clamp: to its second point, or along the line of the eyes."""
    eyes = [points.stock(eye, side) for eye in ("fixed_eye", "shackle_eye")]
    line = points.stock(SEAT_LINE, side) - points.stock(SEAT, side) if points.has(SEAT_LINE) else eyes[0] - eyes[1]
    size = float(np.linalg.norm(line))
    if not size > 1e-3:
        raise InputError(f"{points.name}: the line of the leaf spring has no length; two of its points coincide")
    return np.asarray(line / size * (1.0 if line[0] > 0.0 else -1.0))


def leaf_bodies(
    row: BodyRow, side: str, points: Hardpoints, springs: LeafSprings, centre: Floats
) -> tuple[list[Body], Joint]:
    """Bodies of one half of a spring, three hinges in series on the axle, and the joint that holds their rates."""
    rates = springs.front if points.stock(row.at, side)[0] > points.stock(SEAT, side)[0] else springs.rear
    half = leaf_geometry(points, row.at, side, springs)
    rise = 0.0
    # the joint's place depends a little on the free rise, which may follow from the load: it settles at once
    for _ in range(SETTLING_ROUNDS):
        arm = springs.shape.link * half.length
        law = Row(rate=rates.rate * arm**2, progressive=rates.progressive * arm**3, gap=rates.gap / arm)
        if springs.free_camber is None:
            at_rest = turn_for(law, stock_moment(points, row.at, side, springs, half, centre))
            rise = arm * float(np.sin(half.angle - at_rest)) - springs.shape.arc * rise
        else:
            rise = free_rise(points, row.at, side, springs)
            at_rest = half.angle - float(np.arcsin((1.0 + springs.shape.arc) * rise / arm))
        half = leaf_geometry(points, row.at, side, springs, rise)
    # a block under the spring moves it whole, as it hangs on the axle
    shift = seat_shift(points, side)
    name = f"{row.name}_{side}"
    joint = half.joint + shift
    first, up, third = half.frame
    bodies = [
        Body(name=f"{name}_rising", kind="hinge", at=joint, parent=row.parent, anchor=joint, axis=third),
        Body(name=f"{name}_sideways", kind="hinge", at=joint, parent=f"{name}_rising", anchor=joint, axis=up),
        Body(name=name, kind="hinge", at=joint, parent=f"{name}_sideways", anchor=joint, axis=first),
    ]
    # the leaf is A, so that torsion stays about its own line however far it has risen; the axle turns the other way
    sleeve = np.array(
        [first * np.cos(at_rest) - up * np.sin(at_rest), first * np.sin(at_rest) + up * np.cos(at_rest), third]
    )
    bending = Joint(
        name=name, body_a=name, body_b=row.parent, point_a=joint, point_b=joint,
        rows=(None, None, None, Row(rate=rates.lateral * arm**2), Row(rate=rates.torsion), law),
        frame_a=half.frame, frame_b=sleeve, spring=True,
    )  # fmt: skip
    return bodies, bending


def seat_shift(points: Hardpoints, side: str) -> Floats:
    """How far the kit moves the seat of a spring on the axle [m]."""
    return points.get(SEAT, side, "axle") - points.stock(SEAT, side)


def free_rise(points: Hardpoints, eye: str, side: str, springs: LeafSprings) -> float:
    """Height of an eye above the clamp's line with nothing on the spring, its halves being parts of one arc [m]."""
    assert springs.free_camber is not None
    own, other = (leaf_geometry(points, e, side, springs).length for e in ("fixed_eye", "shackle_eye"))
    if eye != "fixed_eye":
        own, other = other, own
    whole = [length + 0.5 * springs.clamp for length in (own, other)]
    # the line of the eyes lies (h1 l2 + h2 l1) / (l1 + l2) above the seat; on an arc the heights go with l^2
    rise = springs.free_camber * own**2 * sum(whole) / (own**2 * whole[1] + other**2 * whole[0])
    if not abs(rise) < 0.5 * own:
        raise InputError(
            f"{points.name}: a free camber of {1e3 * springs.free_camber:.0f} mm raises the eye by {1e3 * rise:.0f} mm "
            f"over a leaf of {1e3 * own:.0f} mm; that is no leaf spring"
        )
    return rise


def stock_moment(
    points: Hardpoints, eye: str, side: str, springs: LeafSprings, half: LeafGeometry, centre: Floats
) -> float:
    """Moment that a joint carries in the stock pose under the load, raising the eye positive [N m].

    The shackle pulls or pushes along its own line; the axle is pushed up at its centre.
    """
    assert springs.load is not None
    fixed, shackled = (points.stock(e, side) for e in ("fixed_eye", "shackle_eye"))
    line = points.stock("shackle_eye", side) - points.stock("shackle_pivot", side)
    axis = half.frame[2]
    push = np.array([0.0, 0.0, springs.load])
    turning = float(axis @ np.cross(shackled - fixed, line))
    if abs(turning) < 1e-3 * float(np.linalg.norm(line)) * float(np.linalg.norm(shackled - fixed)):
        raise InputError(
            f"{points.name}: in the stock pose the shackle lies in line with the eyes, so it can carry no load"
        )
    share = -float(axis @ np.cross(np.array([centre[0], fixed[1], centre[2]]) - fixed, push)) / turning
    force = share * line if eye == "shackle_eye" else -push - share * line
    return float(axis @ np.cross(half.eye - half.joint, force))


def turn_for(law: Row, moment: float) -> float:
    """Turn from free at which a joint's law gives a moment [rad]."""
    size = abs(moment)
    if law.progressive == 0.0 or size <= law.rate * law.gap:
        turn = size / law.rate
    else:
        k, h, g = law.rate, law.progressive, law.gap
        over = (-k + np.sqrt(k * k + 4.0 * h * (size - k * g))) / (2.0 * h)
        turn = g + float(over)
    return float(np.copysign(turn, moment))


def claim_leaf(points: Hardpoints) -> None:
    """Note the hardpoints of a leaf spring that no joint names."""
    points.claim(SEAT, "axle", paired=True)
    if points.has(SEAT_LINE):
        points.claim(SEAT_LINE, "axle", paired=True)
