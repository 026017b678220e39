"""Builds an independent wheel of any layout from its hardpoints, with the parts that a kit changes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

import numpy as np

from tussock.errors import InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.axle import BushRates
from tussock.mechanics.linkage.hardpoints import MIRROR, Hardpoints
from tussock.mechanics.linkage.layouts import BodyRow, JointRow
from tussock.mechanics.linkage.model import CHASSIS, HARD, Body, Joint, Rod, Row, build_linkage
from tussock.mechanics.linkage.solver import solve_home
from tussock.mechanics.linkage.wheel import Side, SpringRod, SteeringKind, TorsionSpringing, Wheel, WheelAttachment
from tussock.mechanics.linkage.wheel_layouts import BAR, WHEEL_BODIES, WHEEL_LAYOUTS, WHEEL_STEERING

ACROSS = np.array([0.0, 1.0, 0.0])
UP = np.array([0.0, 0.0, 1.0])
#: Rate against turning of a ball's stud, which keeps a relay rod from spinning about its own length [N m/rad].
STUD_RATE = 10.0
RodLength = float | Literal["keep", "refit"]


def build_wheel(
    layout: str,
    hardpoints: Mapping[str, Floats],
    *,
    wheel_radius: float,
    side: Side = "left",
    steering: SteeringKind = "rack",
    toe: float = 0.0,
    camber: float = 0.0,
    bushes: Mapping[str, BushRates] | None = None,
    spring: SpringRod | None = None,
    torsion_bar: TorsionSpringing | None = None,
    changes: Mapping[str, Floats] | None = None,
    rod_lengths: Mapping[str, RodLength] | None = None,
    name: str = "wheel",
) -> Wheel:
    """Build an independent wheel from hardpoints measured in the stock pose at kerb height.

    Parameters
    ----------
    layout : str
        Key of ``WHEEL_LAYOUTS``: ``double_wishbone``, ``strut``.
    hardpoints : mapping of name to array (3,)
        Left side or central [m]; ``<name>_right`` where the right is not the mirror image. Names in ``wheel_layouts``.
    wheel_radius : float
        Loaded radius, wheel centre to ground [m].
    side : {'left', 'right'}
    steering : {'rack', 'relay', 'fixed'}
        What holds the inner end of the tie rod.
    toe, camber : float
        Of the wheel in the stock pose, toe-in and top outward positive [rad].
    bushes : mapping of joint name to BushRates
        ``lower_arm_front`` and ``lower_arm_rear`` (and ``upper_arm_...``) make an arm sit on bushes; their axis is the
        line of the two pivots unless another than the default is given. ``strut_top`` gives the top mount its radial
        rate. What has no rates is rigid.
    spring : SpringRod, optional
        Loads the linkage, and gives the wheel's force and rate; not needed for motion ratios.
    torsion_bar : TorsionSpringing, optional
        On the lower arm, likewise.
    changes : mapping of ``name`` or ``name@body`` to array (3,)
        Where a part of the kit moves an attachment on its body, measured in the stock pose.
    rod_lengths : mapping of rod name to 'keep', 'refit' or length
        ``tie_rod`` and ``drop_link`` keep their stock length unless refitted to the changed points or given [m].
    name : str
        Its name in messages.

    Returns
    -------
    Wheel

    Raises
    ------
    InputError
        Unknown or missing hardpoint, point on the wrong side, rod of no length, bush rates that cannot be.
    AssemblyError
        The wheel is not located, rods fight each other, or the parts cannot be put together.

    Examples
    --------
    >>> import numpy as np
    >>> from tussock.mechanics.linkage import build_wheel, sweep_wheel
    >>> points = {
    ...     "wheel_centre": (0.0, 0.78, 0.36), "lower_ball": (0.0, 0.70, 0.26), "upper_ball": (-0.01, 0.66, 0.52),
    ...     "lower_arm_front": (0.12, 0.32, 0.28), "lower_arm_rear": (-0.20, 0.32, 0.27),
    ...     "upper_arm_front": (0.08, 0.42, 0.54), "upper_arm_rear": (-0.12, 0.42, 0.53),
    ...     "tie_rod_outer": (0.14, 0.68, 0.30), "tie_rod_inner": (0.14, 0.33, 0.315),
    ... }
    >>> table = {name: np.array(point) for name, point in points.items()}
    >>> curves = sweep_wheel(build_wheel("double_wishbone", table, wheel_radius=0.36), np.array([0.0]))
    >>> round(1e3 * float(curves.roll_centre_height[0, 0]))
    16
    """
    if layout not in WHEEL_LAYOUTS:
        raise InputError(f"{name}: there is no layout '{layout}'; the layouts are {', '.join(WHEEL_LAYOUTS)}")
    if steering not in WHEEL_STEERING:
        raise InputError(f"{name}: there is no steering '{steering}'; choose from {', '.join(WHEEL_STEERING)}")
    if side not in ("left", "right"):
        raise InputError(f"{name}: the side is '{side}'; it must be left or right")
    if not (np.isfinite(wheel_radius) and wheel_radius > 0.0):
        raise InputError(f"{name}: the wheel radius is {wheel_radius} m; it must be above zero")
    table, steer = WHEEL_LAYOUTS[layout], WHEEL_STEERING[steering]
    points = Hardpoints(hardpoints, central=(), name=name)
    bodies, joints = [*table.bodies, *steer.bodies], [*table.joints, *steer.joints]
    if points.has("bar_pivot"):
        bodies.append(BAR)
        held = [b for b in WHEEL_BODIES if points.has(f"drop_link_{b}") and any(row.name == b for row in bodies)]
        if len(held) != 1:
            raise InputError(
                f"{name}: an anti-roll bar needs one hardpoint 'drop_link_<body>' for the other end of its drop link; "
                f"found {len(held)}; the bodies are {', '.join(b.name for b in table.bodies)}"
            )
        end = f"drop_link_{held[0]}"
        joints.append(JointRow(name="drop_link", kind="rod", a=held[0], at_a=end, b="bar", at_b="drop_link_bar"))
    place = _Places(points, side)
    _claim(points, bodies, joints)
    names = {row.name for row in bodies}
    parts = points.attachments(
        [body for body in WHEEL_BODIES if body in names],
        ends="<part>_chassis and <part>_<body>, the body being " + ", ".join(WHEEL_BODIES),
    )
    points.change(changes or {})

    rates = dict(bushes or {})
    built: list[Body] = []
    elements: list[Rod | Joint] = []
    for row in bodies:
        body, mounts = _body(row, place, rates, name)
        built.append(body)
        elements += mounts
    top = place(table.steering_axis[1][1], table.steering_axis[1][0])
    low = place(table.steering_axis[0][1], table.steering_axis[0][0])
    for joint in joints:
        elements.append(_joint(joint, place, rates, rod_lengths or {}, top - low, name))
    if rates:
        raise InputError(f"{name}: rates are given for the bush '{next(iter(rates))}', which this layout does not have")
    for rod in rod_lengths or {}:
        if rod not in [e.name for e in elements if isinstance(e, Rod)]:
            raise InputError(
                f"{name}: a length is given for the rod '{rod}', which does not exist; the rods are "
                + ", ".join(e.name for e in elements if isinstance(e, Rod))
            )
    attachments = {
        stem: WheelAttachment(
            name=stem,
            chassis=place(f"{stem}_chassis", CHASSIS),
            at=place(f"{stem}_{body_name}", body_name),
            body=body_name,
        )
        for stem, body_name in parts.items()
    }
    if spring is not None:
        elements.append(_spring(spring, attachments, name))
    if torsion_bar is not None:
        elements.append(_torsion_bar(torsion_bar, place, name))
    centre = place("wheel_centre", "upright")
    inputs = [("upright", "z")] + ([steer.input] if steer.input else [])
    zero = np.array([centre[2]] + ([0.0] if steer.input else []))
    try:
        linkage = build_linkage(built, elements, inputs)
        home = solve_home(linkage, zero)
    except (InputError, SolverError) as error:
        raise type(error)(f"{name}: {error}") from None
    drive = None
    if points.has("drive_inner"):
        drive = np.array([place("drive_inner", CHASSIS), place("drive_outer", "upright")])
    bar = next((b for b in built if b.name == "bar"), None)
    return Wheel(
        name=name,
        layout=layout,
        side=side,
        steering=steering,
        linkage=linkage,
        home=home,
        centre=centre,
        wheel_radius=float(wheel_radius),
        spin=np.array([np.sin(toe) * np.cos(camber), np.cos(toe) * np.cos(camber), -np.sin(camber)]),
        steering_axis=((table.steering_axis[0][0], low), (table.steering_axis[1][0], top)),
        arm_pivots=np.array([place("lower_arm_front", CHASSIS), place("lower_arm_rear", CHASSIS)]),
        attachments=attachments,
        drive=drive,
        bar_arm=None if bar is None else _distance_from_axis(bar),
    )


class _Places:
    """Hardpoints of one side as those of a left wheel."""

    def __init__(self, points: Hardpoints, side: Side) -> None:
        self.points = points
        self.side = side

    def __call__(self, hardpoint: str, body: str) -> Floats:
        """Place of one body end, changed where the kit changes it [m]."""
        central = not self.points.paired(hardpoint)
        at = self.points.get(hardpoint, "" if central else self.side, body)
        return at * MIRROR if self.side == "right" else at

    def stock(self, hardpoint: str) -> Floats:
        """Place in the stock pose [m]."""
        central = not self.points.paired(hardpoint)
        at = self.points.stock(hardpoint, "" if central else self.side)
        return at * MIRROR if self.side == "right" else at


def _claim(points: Hardpoints, bodies: list[BodyRow], joints: list[JointRow]) -> None:
    """Note every body end that uses a hardpoint; raises InputError for a missing one."""
    points.claim("wheel_centre", "upright", paired=True)
    for row in bodies:
        if row.kind == "arm":
            points.claim(f"{row.name}_front", CHASSIS, paired=True)
            points.claim(f"{row.name}_rear", CHASSIS, paired=True)
        elif row.kind == "hinge":
            points.claim(row.axis_to, CHASSIS, paired=row.paired)
            if points.has(f"{row.axis_to}_top"):
                points.claim(f"{row.axis_to}_top", CHASSIS, paired=row.paired)
    for joint in joints:
        points.claim(joint.at_a, joint.a, paired=joint.paired)
        points.claim(joint.at_b, joint.b, paired=joint.paired)
    if points.has("drive_inner") or points.has("drive_outer"):
        points.claim("drive_inner", CHASSIS, paired=True)
        points.claim("drive_outer", "upright", paired=True)


def _body(row: BodyRow, place: _Places, rates: dict[str, BushRates], name: str) -> tuple[Body, list[Rod | Joint]]:
    """Body of one line of a table, and the bushes that an arm sits on."""
    at = place(row.at, row.name)
    if row.kind == "slide":
        return Body(name=row.name, kind="slide", at=at, anchor=at, axis=ACROSS), []
    if row.kind == "hinge":
        anchor = place(row.axis_to, CHASSIS)
        axis = ACROSS if row.name == "bar" else UP
        if place.points.has(f"{row.axis_to}_top"):
            axis = place(f"{row.axis_to}_top", CHASSIS) - anchor
        return Body(name=row.name, kind="hinge", at=at, anchor=anchor, axis=axis), []
    if row.kind == "leaf":
        raise InputError(f"{name}: '{row.name}' is half of a leaf spring, which only a rigid axle can have")
    if row.kind != "arm":
        return Body(name=row.name, kind=row.kind, at=at), []
    pivots = [f"{row.name}_front", f"{row.name}_rear"]
    front, rear = (place(pivot, CHASSIS) for pivot in pivots)
    given = [pivot for pivot in pivots if pivot in rates]
    if not given:
        was = [place.stock(pivot) for pivot in pivots]
        if np.array_equal(was, [front, rear]):
            return Body(name=row.name, kind="hinge", at=at, anchor=front, axis=front - rear), []
        # a bracket moves the pivots on the chassis; the arm keeps its shape, so it is brought there by the solver
        frame, stock_frame = _frame(front - rear), _frame(was[0] - was[1])
        ball = Joint(
            name=pivots[0], body_a=CHASSIS, body_b=row.name, point_a=front, point_b=was[0],
            rows=(HARD, HARD, HARD, None, None, None), frame_a=frame, frame_b=stock_frame,
        )  # fmt: skip
        sleeve = Joint(
            name=pivots[1], body_a=CHASSIS, body_b=row.name, point_a=rear, point_b=was[1],
            rows=(HARD, HARD, None, None, None, None), frame_a=frame, frame_b=stock_frame,
        )  # fmt: skip
        return Body(name=row.name, kind="free", at=at), [ball, sleeve]
    if len(given) == 1:
        raise InputError(f"{name}: rates are given for '{given[0]}' alone; an arm on bushes needs both of its pivots")
    mounts: list[Rod | Joint] = []
    for pivot, point in zip(pivots, (front, rear), strict=True):
        bush = rates.pop(pivot)
        try:
            laws = bush.laws(pivot)
        except InputError as error:
            raise InputError(f"{name}: {error}") from None
        own = np.array(bush.axis)
        frame = _frame(front - rear if np.array_equal(own, ACROSS) else own)
        mounts.append(
            Joint(
                name=pivot, body_a=CHASSIS, body_b=row.name, point_a=point, point_b=place.stock(pivot), rows=laws,
                frame_a=frame, frame_b=frame,
            )
        )  # fmt: skip
    return Body(name=row.name, kind="free", at=at), mounts


def _joint(
    row: JointRow,
    place: _Places,
    rates: dict[str, BushRates],
    lengths: Mapping[str, RodLength],
    stud: Floats,
    name: str,
) -> Rod | Joint:
    """Joint of one line of a table."""
    a, b = place(row.at_a, row.a), place(row.at_b, row.b)
    if row.kind == "rod":
        length = float(np.linalg.norm(place.stock(row.at_b) - place.stock(row.at_a)))
        wish = lengths.get(row.name, "keep")
        if wish == "refit":
            length = float(np.linalg.norm(b - a))
        elif wish != "keep":
            length = float(wish)
        return Rod(name=row.name, body_a=row.a, body_b=row.b, point_a=a, point_b=b, length=length)
    if row.kind == "slider":
        frame = _frame(b - a)
        law = HARD
        if row.name in rates:
            radial = rates.pop(row.name).radial
            if not (np.isfinite(radial) and radial > 0.0):
                raise InputError(f"{name}: the radial rate of '{row.name}' is {radial}; it must be above zero")
            law = Row(rate=radial)
        return Joint(
            name=row.name, body_a=row.a, body_b=row.b, point_a=a, point_b=b, rows=(law, law, None, None, None, None),
            frame_a=frame, frame_b=frame,
        )  # fmt: skip
    frame = _frame(stud if row.kind == "ball" else b - place("idler_ball", "idler"))
    turning = Row(rate=STUD_RATE) if row.kind == "stud" else None
    return Joint(
        name=row.name, body_a=row.a, body_b=row.b, point_a=a, point_b=b,
        rows=(HARD, HARD, HARD, None, None, turning), frame_a=frame, frame_b=frame,
    )  # fmt: skip


def _spring(spring: SpringRod, attachments: Mapping[str, WheelAttachment], name: str) -> Rod:
    if "spring" not in attachments:
        raise InputError(f"{name}: a spring is given, but not its seats 'spring_chassis' and 'spring_<body>'")
    if not (spring.rate > 0.0 and spring.free_length > 0.0):
        raise InputError(
            f"{name}: the spring has a rate of {spring.rate} N/m and a free length of {spring.free_length} m; both "
            "must be above zero"
        )
    seat = attachments["spring"]
    return Rod(
        name="spring", body_a=seat.body, body_b=CHASSIS, point_a=seat.at, point_b=seat.chassis,
        length=spring.free_length, law=Row(rate=spring.rate), spring=True,
    )  # fmt: skip


def _torsion_bar(bar: TorsionSpringing, place: _Places, name: str) -> Joint:
    if not (np.isfinite(bar.rate) and bar.rate > 0.0 and abs(bar.twist) < np.pi):
        raise InputError(
            f"{name}: the torsion bar has a rate of {bar.rate} N m/rad and a twist of {bar.twist} rad; the rate must "
            "be above zero, the twist within half a turn"
        )
    front, rear = place("lower_arm_front", CHASSIS), place("lower_arm_rear", CHASSIS)
    frame = _frame(front - rear)
    # the bar is twisted as if the arm had gone up from where the bar is free
    up = float(np.cross(frame[2], place("lower_ball", "lower_arm") - front)[2])
    turn = bar.twist if up > 0.0 else -bar.twist
    first, second, third = frame
    turned = np.array(
        [first * np.cos(turn) + second * np.sin(turn), -first * np.sin(turn) + second * np.cos(turn), third]
    )
    return Joint(
        name="torsion_bar", body_a=CHASSIS, body_b="lower_arm", point_a=front, point_b=front,
        rows=(None, None, None, None, None, Row(rate=bar.rate)), frame_a=frame, frame_b=turned, spring=True,
    )  # fmt: skip


def _frame(axis: Floats) -> Floats:
    """Rows a1, a2, a3 of a right-handed frame, a3 along the axis."""
    size = float(np.linalg.norm(axis))
    if not size > 1e-9:
        raise InputError(f"an axis between two hardpoints has no length: {axis.tolist()}")
    third = axis / size
    other = np.array([1.0, 0.0, 0.0]) if abs(third[0]) < 0.8 else UP
    first = other - third * float(other @ third)
    first /= np.linalg.norm(first)
    return np.array([first, np.cross(third, first), third])


def _distance_from_axis(body: Body) -> float:
    assert body.anchor is not None
    assert body.axis is not None
    return float(np.linalg.norm(np.cross(body.axis / np.linalg.norm(body.axis), body.at - body.anchor)))
