"""Layouts of independent wheels as tables; one wheel is solved, the other is its mirror image.

Hardpoints (chassis axes, stock pose at kerb height, left side) [m]:

========================================  ========================================================================
``wheel_centre``                          wheel centre
``lower_ball``, ``upper_ball``            ball joints between the arms and the upright
``lower_arm_front``, ``lower_arm_rear``   pivots of the lower arm on the chassis; ``upper_arm_...`` likewise
``strut_top``, ``strut_lower``            top mount, and a second point on the strut's line in the upright
``tie_rod_outer``, ``tie_rod_inner``      ends of the tie rod: upright; rack, relay rod or chassis
``pitman_shaft``, ``pitman_ball``         steering box: a point on its shaft (``..._top`` for its direction),
                                          and the ball that pitman arm and relay rod share (not mirrored)
``idler_shaft``, ``idler_ball``           idler arm on the other side, likewise (not mirrored)
``bar_pivot``, ``drop_link_bar``          anti-roll bar: a point on its line (``bar_pivot_top`` for a second one,
                                          across the vehicle if not given), the drop link's end on it
``drop_link_<body>``                      its other end, on ``lower_arm``, ``upper_arm`` or ``upright``
``drive_inner``, ``drive_outer``          joints of the drive shaft, on the chassis and in the upright
``<part>_chassis``, ``<part>_<body>``     seats of ``spring``, ``damper``, ``stop``, or ends of any hose
========================================  ========================================================================
"""

from __future__ import annotations

from dataclasses import dataclass

from tussock.mechanics.linkage.layouts import BodyRow, JointRow


@dataclass(frozen=True, kw_only=True)
class WheelLayout:
    """A layout of an independent wheel.

    Attributes
    ----------
    name, title : str
        Its key, and words for people.
    bodies, joints : tuple
        Its tables.
    steering_axis : tuple of (body, hardpoint), (body, hardpoint)
        Lower and upper point of the axis about which the upright turns.
    """

    name: str
    title: str
    bodies: tuple[BodyRow, ...]
    joints: tuple[JointRow, ...]
    steering_axis: tuple[tuple[str, str], tuple[str, str]]


@dataclass(frozen=True, kw_only=True)
class SteeringLayout:
    """What moves the inner end of the tie rod; `input` is the body and coordinate that is prescribed, if any."""

    name: str
    title: str
    bodies: tuple[BodyRow, ...]
    joints: tuple[JointRow, ...]
    input: tuple[str, str] | None


UPRIGHT = BodyRow(name="upright", kind="carrier", at="wheel_centre")
LOWER_ARM = BodyRow(name="lower_arm", kind="arm", at="lower_ball")
UPPER_ARM = BodyRow(name="upper_arm", kind="arm", at="upper_ball")
LOWER_BALL = JointRow(name="lower_ball", kind="ball", a="lower_arm", at_a="lower_ball", b="upright", at_b="lower_ball")
UPPER_BALL = JointRow(name="upper_ball", kind="ball", a="upper_arm", at_a="upper_ball", b="upright", at_b="upper_ball")

WHEEL_LAYOUTS: dict[str, WheelLayout] = {
    layout.name: layout
    for layout in (
        WheelLayout(
            name="double_wishbone",
            title="double wishbone",
            bodies=(UPRIGHT, LOWER_ARM, UPPER_ARM),
            joints=(LOWER_BALL, UPPER_BALL),
            steering_axis=(("upright", "lower_ball"), ("upright", "upper_ball")),
        ),
        WheelLayout(
            name="strut",
            title="strut and lower arm",
            bodies=(UPRIGHT, LOWER_ARM),
            joints=(
                LOWER_BALL,
                JointRow(
                    name="strut_top", kind="slider", a="upright", at_a="strut_lower", b="chassis", at_b="strut_top"
                ),
            ),
            steering_axis=(("upright", "lower_ball"), ("chassis", "strut_top")),
        ),
    )
}


def _tie_rod(body: str) -> JointRow:
    return JointRow(name="tie_rod", kind="rod", a="upright", at_a="tie_rod_outer", b=body, at_b="tie_rod_inner")


WHEEL_STEERING: dict[str, SteeringLayout] = {
    layout.name: layout
    for layout in (
        SteeringLayout(
            name="fixed", title="tie rod to the chassis", bodies=(), joints=(_tie_rod("chassis"),), input=None
        ),
        SteeringLayout(
            name="rack",
            title="steering rack",
            bodies=(BodyRow(name="rack", kind="slide", at="tie_rod_inner"),),
            joints=(_tie_rod("rack"),),
            input=("rack", "travel"),
        ),
        SteeringLayout(
            name="relay",
            title="steering box with pitman arm, relay rod and idler arm",
            bodies=(
                BodyRow(name="pitman", kind="hinge", at="pitman_ball", axis_to="pitman_shaft", paired=False),
                BodyRow(name="idler", kind="hinge", at="idler_ball", axis_to="idler_shaft", paired=False),
                BodyRow(name="relay", kind="free", at="tie_rod_inner"),
            ),
            joints=(
                JointRow(
                    name="pitman_ball", kind="stud", a="pitman", at_a="pitman_ball", b="relay", at_b="pitman_ball",
                    paired=False,
                ),
                JointRow(
                    name="idler_ball", kind="ball", a="idler", at_a="idler_ball", b="relay", at_b="idler_ball",
                    paired=False,
                ),
                _tie_rod("relay"),
            ),
            input=("pitman", "angle"),
        ),
    )
}  # fmt: skip

#: Added where an anti-roll bar is given; the drop link's end names the body that it holds.
BAR = BodyRow(name="bar", kind="hinge", at="drop_link_bar", axis_to="bar_pivot")
#: Ends that an attachment or a drop link may have, beside the chassis.
WHEEL_BODIES = ("lower_arm", "upper_arm", "upright")
