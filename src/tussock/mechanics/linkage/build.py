"""Builds a rigid axle of any layout from its hardpoints, with the parts that a kit changes."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import Literal

import numpy as np

from tussock.errors import InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.axle import Attachment, Axle, BushRates
from tussock.mechanics.linkage.hardpoints import Hardpoints, bush_frame
from tussock.mechanics.linkage.layouts import (
    ATTACHMENT_BODIES,
    LAYOUTS,
    PITMAN,
    STEERING_BODIES,
    STEERING_JOINTS,
    BodyRow,
    JointRow,
    Layout,
)
from tussock.mechanics.linkage.leaf_springs import LeafSprings, claim_leaf, leaf_bodies, seat_shift
from tussock.mechanics.linkage.model import CHASSIS, HARD, Body, BodyKind, Joint, Rod, Row, build_linkage
from tussock.mechanics.linkage.solution import Solution
from tussock.mechanics.linkage.solver import plan_grid, solve_home, solve_plan

RodLength = float | Literal["keep", "refit"]
#: Largest difference between a rod's new length and the distance of its ends in the stock pose [m]; common practice.
LENGTH_CHANGE_ACCEPTED = 0.15
#: Rounds of turning the bushes to rest at a pose, which moves a little as they are turned.
SETTLING_ROUNDS = 3
SIDES = ("left", "right")


def build_axle(
    layout: str,
    hardpoints: Mapping[str, Floats],
    *,
    wheel_radius: float,
    bushes: Mapping[str, BushRates] | None = None,
    link_stiffness: float | Mapping[str, float] | None = None,
    leaf_springs: LeafSprings | None = None,
    steering: bool = False,
    central: Collection[str] = (),
    pinion: Literal["forward", "rearward"] = "forward",
    changes: Mapping[str, Floats] | None = None,
    rod_lengths: Mapping[str, RodLength] | None = None,
    settled_heave: float | None = None,
    name: str = "axle",
) -> Axle:
    """Build a rigid axle from hardpoints measured in the stock pose at kerb height.

    Parameters
    ----------
    layout : str
        Key of ``LAYOUTS``: ``arms_track_rod``, ``links_track_rod``, ``links``, ``leaf_springs``.
    hardpoints : mapping of name to array (3,)
        Left side or central [m]; ``<name>_right`` where the right is not the mirror image. Names in ``layouts``.
    wheel_radius : float
        Loaded radius, wheel centre to ground [m].
    bushes : mapping of joint name to BushRates
        Needed by layouts with bushes.
    link_stiffness : float or mapping of link name to float, optional
        Stiffness of links with their end bushes in series [N/m]; a float counts for every link but the track rod.
        Links without one are exact, which works only where they are just as many as needed.
    leaf_springs : LeafSprings, optional
        Needed by the layout that has them.
    steering : bool
        Whether the axle has knuckles, tie rod and drag link.
    central : collection of str
        Stems of links or attachments that stand once, such as ``upper_link``.
    pinion : {'forward', 'rearward'}
        Where the pinion points from the axle: forward on a rear axle, rearward on a front axle.
    changes : mapping of ``name``, ``name_left``, ``name_right``, each perhaps with ``@body``, to array (3,)
        Where a part of the kit moves an attachment on its body, measured in the stock pose; left and right unless the
        side is said. A bush between two bodies has two ends: ``arm_axle_front@axle`` is an offset bush,
        ``arm_chassis@chassis`` a drop bracket.
    rod_lengths : mapping of rod name to 'keep', 'refit' or length
        A rod whose end was moved keeps its stock length, unless it is refitted to the changed points in the stock pose
        or given a new length [m].
    settled_heave : float, optional
        Axle heave at which the bushes' bolts were tightened [m]: there no bush is twisted about its axis. Stock pose
        if not given; a kit that is fitted well is tightened at its own height, minus the lift.
    name : str
        Its name in messages.

    Returns
    -------
    Axle

    Raises
    ------
    InputError
        Unknown or missing hardpoint, point on the wrong side, rod of no length, missing bush.
    AssemblyError
        The axle is not located, rods fight each other, or the parts cannot be put together.

    Examples
    --------
    >>> import numpy as np
    >>> from tussock.mechanics.linkage import build_axle, sweep
    >>> points = {
    ...     "wheel_centre": (-2.7, 0.75, 0.36),
    ...     "lower_link_axle": (-2.7, 0.45, 0.30), "lower_link_chassis": (-2.0, 0.45, 0.30),
    ...     "upper_link_axle": (-2.7, 0.0, 0.50), "upper_link_chassis": (-2.2, 0.0, 0.50),
    ...     "track_rod_axle": (-2.8, -0.45, 0.40), "track_rod_chassis": (-2.8, 0.45, 0.46),
    ... }
    >>> table = {name: np.array(point) for name, point in points.items()}
    >>> axle = build_axle("links_track_rod", table, wheel_radius=0.36, central={"upper_link"})
    >>> lifted = sweep(axle, np.array([-0.035]), np.array([0.0]))
    >>> round(1e3 * float(lifted.lateral_shift[0, 0]), 1)  # the lift pulls the axle to the rod's chassis end [mm]
    3.0
    """
    if layout not in LAYOUTS:
        raise InputError(f"{name}: there is no layout '{layout}'; the layouts are {', '.join(LAYOUTS)}")
    if not (np.isfinite(wheel_radius) and wheel_radius > 0.0):
        raise InputError(f"{name}: the wheel radius is {wheel_radius} m; it must be above zero")
    table = LAYOUTS[layout]
    points = Hardpoints(hardpoints, central=central, name=name)
    bodies, joints = _rows(table, points, steering)
    _claim(points, bodies, joints)
    names = {row.name for row in bodies}
    attachments = points.attachments(
        [body for body in ATTACHMENT_BODIES if body in names], ends="<part>_chassis and <part>_axle"
    )
    points.change(changes or {})

    if any(row.kind == "leaf" for row in bodies) != (leaf_springs is not None):
        raise InputError(
            f"{name}: the layout '{layout}' "
            + ("needs the data of its leaf springs" if leaf_springs is None else "has no leaf springs")
        )
    built: list[Body] = []
    bending: list[Rod | Joint] = []
    wheels = np.array([points.get("wheel_centre", side, "axle") for side in SIDES])
    centre = wheels.mean(axis=0)
    for row in bodies:
        for side in SIDES if row.paired else ("",):
            if row.kind == "leaf" and leaf_springs is not None:
                hinges, joint = leaf_bodies(row, side, points, leaf_springs, centre)
                built += hinges
                bending.append(joint)
                continue
            at = centre if row.kind == "carrier" else points.get(row.at, side, row.name)
            anchor = axis = None
            if row.kind == "hinge":
                low, high = (
                    ("king_pin_lower", "king_pin_upper")
                    if row.axis_to == "king_pin"
                    else (
                        row.axis_to,
                        f"{row.axis_to}_top",
                    )
                )
                anchor = points.get(low, side, row.parent)
                top = points.get(high, side, row.parent) if points.has(high) else anchor + np.array([0.0, 0.0, 1.0])
                axis = top - anchor
            parent = row.parent
            built.append(
                Body(name=_sided(row.name, side), kind=_kind(row), at=at, parent=parent, anchor=anchor, axis=axis)
            )
    leaves = {row.name for row in bodies if row.kind == "leaf"}
    elements = _elements(joints, leaves, points, bushes or {}, link_stiffness, rod_lengths or {}, name) + bending
    moves = any(row.name == "pitman" for row in bodies)
    held = [("axle", "z"), ("axle", "roll")] + ([("pitman", "angle")] if moves else [])
    zero = np.array([centre[2], 0.0] + ([0.0] if moves else []))
    try:
        linkage = build_linkage(built, elements, held)
        home = solve_home(linkage, zero)
        if settled_heave is not None:
            for _ in range(SETTLING_ROUNDS):
                plan = plan_grid(np.array([settled_heave]), np.zeros(1), (0.0,) * (zero.size - 2))
                elements = _settled(elements, solve_plan(linkage, plan, home, zero).take(plan.wanted.ravel()))
                linkage = build_linkage(built, elements, held)
                home = solve_home(linkage, zero)
    except (InputError, SolverError) as error:
        raise type(error)(f"{name}: {error}") from None
    pins = None
    if points.has("king_pin_lower") and points.has("king_pin_upper"):
        pins = np.array(
            [points.get("king_pin_upper", s, "axle") - points.get("king_pin_lower", s, "axle") for s in SIDES]
        )
        pins /= np.linalg.norm(pins, axis=1)[:, None]
    return Axle(
        name=name,
        layout=layout,
        linkage=linkage,
        home=home,
        centre=centre,
        wheel_centres=wheels,
        wheel_radius=float(wheel_radius),
        track=float(np.linalg.norm(wheels[0] - wheels[1])),
        steers=steering,
        moves_steering=moves,
        pinion=pinion,
        king_pin=pins,
        attachments={stem: _attachment(stem, body, points) for stem, body in attachments.items()},
        leaf_friction=0.0 if leaf_springs is None else leaf_springs.friction,
    )


def _kind(row: BodyRow) -> BodyKind:
    """Kind of a body of a rigid axle, whose tables have no arms with pivots of their own."""
    if row.kind == "arm" or row.kind == "leaf":  # so that the type is narrowed
        raise InputError(f"body '{row.name}' is an {row.kind}, which cannot stand alone on a rigid axle")
    return row.kind


def _settled(elements: list[Rod | Joint], at: Solution) -> list[Rod | Joint]:
    """Turn the inner sleeve of every bush about its axis so that it is not twisted in the given pose."""
    turned: list[Rod | Joint] = []
    for element in elements:
        if isinstance(element, Joint) and not element.spring:
            twist = float(at.joint_rows(element.name)[0, 5])
            b1, b2, b3 = element.frame_b
            frame = np.array([b1 * np.cos(twist) - b2 * np.sin(twist), b1 * np.sin(twist) + b2 * np.cos(twist), b3])
            element = replace(element, frame_b=frame)
        turned.append(element)
    return turned


def _sided(name: str, side: str) -> str:
    return f"{name}_{side}" if side else name


def _rows(plan: Layout, points: Hardpoints, steering: bool) -> tuple[list[BodyRow], list[JointRow]]:
    """Tables of the layout with its links and its steering."""
    bodies, joints = list(plan.bodies), list(plan.joints)
    if plan.links:
        stems = [n.removesuffix("_axle") for n in points.names if n.endswith("_link_axle") and n != "drag_link_axle"]
        joints += [
            JointRow(
                name=stem,
                kind="link",
                a="axle",
                at_a=f"{stem}_axle",
                b=CHASSIS,
                at_b=f"{stem}_chassis",
                paired=stem not in points.central,
            )
            for stem in stems
        ]
    if steering:
        bodies += STEERING_BODIES
        joints += STEERING_JOINTS
        if points.has("pitman_shaft"):
            bodies.append(PITMAN)
    return bodies, joints


def _drag_side(points: Hardpoints) -> str:
    """Side of the knuckle that the drag link holds."""
    return "left" if points.get("drag_link_axle", "", "knuckle")[1] > 0.0 else "right"


def _claim(points: Hardpoints, bodies: list[BodyRow], joints: list[JointRow]) -> None:
    """Tell the table of hardpoints which ends there are, so that changes can be checked against them."""
    names = {row.name for row in bodies}
    points.claim("wheel_centre", "axle", paired=True)
    if any(row.kind == "leaf" for row in bodies):
        claim_leaf(points)
    for row in bodies:
        if row.kind != "hinge":
            continue
        if row.axis_to == "king_pin":
            points.claim("king_pin_lower", "axle", paired=True)
            points.claim("king_pin_upper", "axle", paired=True)
        else:
            points.claim(row.axis_to, CHASSIS, paired=False)
            if points.has(f"{row.axis_to}_top"):
                points.claim(f"{row.axis_to}_top", CHASSIS, paired=False)
    for joint in joints:
        for body, at in ((joint.a, joint.at_a), (joint.b, joint.at_b)):
            owner = body if body in names or body == CHASSIS else CHASSIS
            points.claim(at, owner, paired=joint.paired or joint.across)


def _attachment(stem: str, body: str, points: Hardpoints) -> Attachment:
    sides = SIDES if stem not in points.central else ("",)
    return Attachment(
        name=stem,
        chassis=np.array([points.get(f"{stem}_chassis", side, CHASSIS) for side in sides]),
        at=np.array([points.get(f"{stem}_{body}", side, body) for side in sides]),
        bodies=tuple(body if body == "axle" else _sided(body, side) for side in sides),
    )


def _elements(
    joints: list[JointRow],
    leaves: Collection[str],
    points: Hardpoints,
    bushes: Mapping[str, BushRates],
    link_stiffness: float | Mapping[str, float] | None,
    rod_lengths: Mapping[str, RodLength],
    name: str,
) -> list[Rod | Joint]:
    """Joints of the linkage from the rows of the tables."""
    elements: list[Rod | Joint] = []
    rods: set[str] = set()
    for row in joints:
        for side in SIDES if row.paired else ("",):
            side_a, side_b = SIDES if row.across else (side, side)
            if row.name == "drag_link":
                side_a = _drag_side(points)
            body_a, body_b = row.a, row.b
            if body_b == "pitman" and not points.has("pitman_shaft"):
                body_b = CHASSIS
            full_a = body_a if body_a in ("axle", CHASSIS, "pitman") else _sided(body_a, side_a)
            full_b = body_b if body_b in ("axle", CHASSIS, "pitman") else _sided(body_b, side_b)
            at_side_a = "" if row.name == "drag_link" else side_a
            point_a = points.get(row.at_a, at_side_a, body_a)
            if row.a in leaves:
                point_a = point_a + seat_shift(points, side_a)
            point_b = points.get(row.at_b, side_b, body_b)
            label = _sided(row.name, side)
            if row.kind == "bush":
                if row.name not in bushes:
                    raise InputError(
                        f"{name}: the bush '{row.name}' has no rates; give radial and axial in N/m, conical and "
                        "torsional in N m/rad"
                    )
                rates = bushes[row.name]
                try:
                    laws = rates.laws(row.name)
                except InputError as error:
                    raise InputError(f"{name}: {error}") from None
                frame = bush_frame(np.array(rates.axis), mirrored=side == "right")
                elements.append(
                    Joint(
                        name=label, body_a=full_a, body_b=full_b, point_a=point_a, point_b=point_b,
                        rows=laws, frame_a=frame, frame_b=frame,
                    )
                )  # fmt: skip
                continue
            rods.update((row.name, label))
            stock = float(np.linalg.norm(points.stock(row.at_b, side_b) - points.stock(row.at_a, at_side_a)))
            wish = rod_lengths.get(label, rod_lengths.get(row.name, "keep"))
            if wish == "keep":
                length = stock
            elif wish == "refit":
                length = float(np.linalg.norm(point_b - point_a))
            else:
                length = float(wish)
                span = float(np.linalg.norm(point_b - point_a))
                if not abs(length - span) <= LENGTH_CHANGE_ACCEPTED:
                    raise InputError(
                        f"{name}: '{label}' is given a length of {1e3 * length:.1f} mm, but its ends lie "
                        f"{1e3 * span:.1f} mm apart in the stock pose; more than "
                        f"{1e3 * LENGTH_CHANGE_ACCEPTED:.0f} mm between them is taken as an error"
                    )
            law = HARD
            if row.kind == "link" and link_stiffness is not None:
                if isinstance(link_stiffness, Mapping):
                    value = link_stiffness.get(label, link_stiffness.get(row.name))
                else:
                    value = link_stiffness if row.name != "track_rod" else None
                if value is not None:
                    if not (np.isfinite(value) and value > 0.0):
                        raise InputError(f"{name}: the stiffness of '{label}' is {value} N/m; it must be above zero")
                    law = Row(rate=float(value))
            elements.append(
                Rod(
                    name=label, body_a=full_a, body_b=full_b, point_a=point_a, point_b=point_b, length=length, law=law
                )
            )  # fmt: skip
    for wanted in rod_lengths:
        if wanted not in rods:
            near = difflib.get_close_matches(wanted, rods, n=1)
            raise InputError(
                f"{name}: a length is given for the rod '{wanted}', which does not exist"
                + (f"; did you mean '{near[0]}'?" if near else f"; the rods are {', '.join(sorted(rods))}")
            )
    return elements
