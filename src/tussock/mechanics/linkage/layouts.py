"""Suspension layouts as tables: which bodies there are, what joins them, and at which hardpoints.

A layout has no code of its own. Names of bodies, joints and hardpoints are for the left side; a paired row is mirrored
to the right. An end of a joint is written ``hardpoint@body``.

Hardpoints of the rigid-axle layouts (chassis axes, stock pose at kerb height, left side or central) [m]:

=========================================  ==========================================================================
``wheel_centre``                           left wheel centre; the axle's centre lies midway to the right one
``arm_chassis``                            centre of the arm's bush on the chassis
``arm_axle_front``, ``arm_axle_rear``      centres of the arm's two bushes on the axle
``<name>_link_axle``, ``<name>_link_chassis``  ends of a link (``lower``, ``upper``, ``fifth``, or any name)
``track_rod_axle``, ``track_rod_chassis``  ends of the track rod (one, not mirrored)
``king_pin_lower``, ``king_pin_upper``     two points on the king-pin axis
``tie_rod_left``                           left end of the tie rod, on the left knuckle (mirrored)
``drag_link_axle``, ``drag_link_pitman``   ends of the drag link: on a knuckle (side by its y), on the pitman arm
``pitman_shaft``, ``pitman_shaft_top``     two points on the steering box's output shaft, if the steering is to be moved
``fixed_eye``, ``shackle_eye``             centres of a leaf spring's eyes: on the chassis, in the shackle
``shackle_pivot``                          centre of the shackle's bush on the chassis
``leaf_seat``                              main leaf at the centre bolt; ``leaf_seat_front`` a second point of the
                                           clamp's line, which is parallel to the line of the eyes if not given
``<part>_chassis``, ``<part>_axle``        seats of ``spring``, ``damper``, ``stop``, or ends of any hose or cable
=========================================  ==========================================================================
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, kw_only=True)
class BodyRow:
    """One line of a layout's body table.

    `at` is the hardpoint of its reference; a hinge turns about ``axis_to`` and ``axis_to_top`` (straight up where the
    second is not given). A ``leaf`` is half of a leaf spring, from the eye `at` to the axle. An ``arm`` is a hinge
    about its pivots ``<name>_front``, ``<name>_rear``, or a free body on two bushes where rates are given for them. A
    ``slide`` moves across the vehicle.
    """

    name: str
    kind: Literal["carrier", "free", "hinge", "arm", "slide", "leaf"]
    at: str
    parent: str = "chassis"
    axis_to: str = ""
    paired: bool = True


@dataclass(frozen=True, kw_only=True)
class JointRow:
    """One line of a layout's joint table.

    `kind`: ``rod`` (always exact), ``link`` (exact, or with its stiffness), ``bush`` (six soft rows), ``ball``,
    ``stud`` (a ball whose stud resists turning a little), ``slider`` (`at_b` runs along the line `at_a` - `at_b` that
    is fixed in `a`).
    `a`, `b`: the bodies; `at_a`, `at_b`: the hardpoints on them. ``across`` joins left to right.
    """

    name: str
    kind: Literal["rod", "link", "bush", "ball", "stud", "slider"]
    a: str
    at_a: str
    b: str
    at_b: str
    paired: bool = True
    across: bool = False


@dataclass(frozen=True, kw_only=True)
class Layout:
    """A suspension layout.

    Attributes
    ----------
    name, title : str
        Its key, and words for people.
    bodies, joints : tuple
        Its tables.
    links : bool
        Whether every pair of hardpoints ``<name>_link_axle``, ``<name>_link_chassis`` makes a link.
    """

    name: str
    title: str
    bodies: tuple[BodyRow, ...]
    joints: tuple[JointRow, ...]
    links: bool = False


AXLE = BodyRow(name="axle", kind="carrier", at="wheel_centre", paired=False)
TRACK_ROD = JointRow(
    name="track_rod", kind="link", a="axle", at_a="track_rod_axle", b="chassis", at_b="track_rod_chassis", paired=False
)

LAYOUTS: dict[str, Layout] = {
    layout.name: layout
    for layout in (
        Layout(
            name="arms_track_rod",
            title="rigid axle on two arms and a track rod",
            bodies=(AXLE, BodyRow(name="arm", kind="free", at="arm_chassis")),
            joints=(
                JointRow(name="arm_chassis", kind="bush", a="arm", at_a="arm_chassis", b="chassis", at_b="arm_chassis"),
                JointRow(
                    name="arm_axle_front", kind="bush", a="arm", at_a="arm_axle_front", b="axle", at_b="arm_axle_front"
                ),
                JointRow(
                    name="arm_axle_rear", kind="bush", a="arm", at_a="arm_axle_rear", b="axle", at_b="arm_axle_rear"
                ),
                TRACK_ROD,
            ),
        ),
        Layout(
            name="links_track_rod",
            title="rigid axle on links and a track rod",
            bodies=(AXLE,),
            joints=(TRACK_ROD,),
            links=True,
        ),
        Layout(name="links", title="rigid axle on links alone", bodies=(AXLE,), joints=(), links=True),
        Layout(
            name="leaf_springs",
            title="rigid axle on leaf springs",
            bodies=(
                AXLE,
                BodyRow(name="fixed_leaf", kind="leaf", at="fixed_eye", parent="axle"),
                BodyRow(name="shackle_leaf", kind="leaf", at="shackle_eye", parent="axle"),
                BodyRow(name="shackle", kind="free", at="shackle_pivot"),
            ),
            joints=(
                JointRow(
                    name="fixed_eye", kind="bush", a="fixed_leaf", at_a="fixed_eye", b="chassis", at_b="fixed_eye"
                ),
                JointRow(
                    name="shackle_eye", kind="bush", a="shackle_leaf", at_a="shackle_eye", b="shackle",
                    at_b="shackle_eye",
                ),
                JointRow(
                    name="shackle_pivot", kind="bush", a="shackle", at_a="shackle_pivot", b="chassis",
                    at_b="shackle_pivot",
                ),
            ),
            links=True,
        ),
    )
}  # fmt: skip

#: Added to any rigid-axle layout that steers.
STEERING_BODIES = (BodyRow(name="knuckle", kind="hinge", at="wheel_centre", parent="axle", axis_to="king_pin"),)
STEERING_JOINTS = (
    JointRow(
        name="tie_rod", kind="rod", a="knuckle", at_a="tie_rod", b="knuckle", at_b="tie_rod", paired=False, across=True
    ),
    JointRow(
        name="drag_link",
        kind="rod",
        a="knuckle",
        at_a="drag_link_axle",
        b="pitman",
        at_b="drag_link_pitman",
        paired=False,
    ),
)
PITMAN = BodyRow(name="pitman", kind="hinge", at="drag_link_pitman", axis_to="pitman_shaft", paired=False)

#: Ends that an attachment may have, beside the chassis.
ATTACHMENT_BODIES = ("axle", "arm", "knuckle")
