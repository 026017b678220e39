"""Which hardpoints, rods and bushed joints each suspension layout has. The mechanics holds the same names (tested)."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Names that a programme uses for one suspension layout.

    Attributes
    ----------
    words : str
        The layout in words.
    required : tuple of str
        Hardpoints that must be given.
    central : frozenset of str
        Hardpoints that exist once and may lie anywhere across; all others are left ones, mirrored to the right.
    joints : tuple of str
        Bushed joints with radial, axial, conical and torsional rates.
    links : bool
        Every pair of hardpoints `<name>_link_axle`, `<name>_link_chassis` makes a link, with one stiffness or rigid.
    bodies : tuple of str
        Bodies that it consists of, beside the chassis.
    """

    words: str
    required: tuple[str, ...]
    central: frozenset[str] = frozenset()
    joints: tuple[str, ...] = ()
    links: bool = False
    bodies: tuple[str, ...] = ("axle",)


_ON_EVERY_AXLE = (
    "wheel_centre",
    "spring_axle",
    "spring_chassis",
    "damper_axle",
    "damper_chassis",
    "stop_axle",
    "stop_chassis",
)
_TRACK_ROD = ("track_rod_axle", "track_rod_chassis")

#: Needed when the axle steers; the tie rod is named by its left end, its right end is the mirror.
STEERING = ("king_pin_lower", "king_pin_upper", "tie_rod_left", "drag_link_axle", "drag_link_pitman")
#: May be given on an axle that steers: two points on the axis of the steering box's output shaft.
STEERING_OPTIONAL = ("pitman_shaft", "pitman_shaft_top")
_CENTRAL = frozenset((*_TRACK_ROD, "drag_link_axle", "drag_link_pitman", *STEERING_OPTIONAL))

LAYOUTS: dict[str, Layout] = {
    "arms_track_rod": Layout(
        words="rigid axle on two leading or trailing arms and a track rod",
        required=(*_ON_EVERY_AXLE, "arm_chassis", "arm_axle_front", "arm_axle_rear", *_TRACK_ROD),
        central=_CENTRAL,
        joints=("arm_chassis", "arm_axle_front", "arm_axle_rear"),
        bodies=("axle", "arm"),
    ),
    "links_track_rod": Layout(
        words="rigid axle on three, four or five links and a track rod",
        required=(*_ON_EVERY_AXLE, *_TRACK_ROD),
        central=_CENTRAL,
        links=True,
    ),
    "links": Layout(
        words="rigid axle on links alone, some of them at an angle to hold it sideways",
        required=_ON_EVERY_AXLE,
        central=_CENTRAL - frozenset(_TRACK_ROD),
        links=True,
    ),
}
ON_ARM = ("spring", "damper", "stop")
"""Parts whose lower end may sit on an arm instead of the axle: `spring_arm` in place of `spring_axle`."""

LEAST_LINKS = 2  # pairs of link hardpoints that hold an axle; how well, the linkage solver says

_LINK_END = re.compile(r"([a-z][a-z0-9]{0,20}_link)_(axle|chassis)(_right)?")


#: Pairs that a rod, a spring or a strut spans: name of the part and its two hardpoints.
SPANS: tuple[tuple[str, str, str], ...] = (
    ("track rod", "track_rod_axle", "track_rod_chassis"),
    ("drag link", "drag_link_axle", "drag_link_pitman"),
    ("king pin", "king_pin_lower", "king_pin_upper"),
    ("arm to its front bush", "arm_chassis", "arm_axle_front"),
    ("arm to its rear bush", "arm_chassis", "arm_axle_rear"),
    ("arm between its axle bushes", "arm_axle_front", "arm_axle_rear"),
    ("spring", "spring_axle", "spring_chassis"),
    ("damper", "damper_axle", "damper_chassis"),
    ("bump stop", "stop_axle", "stop_chassis"),
)

#: Parts whose chassis end lies above their axle end, with the words for both ends.
UPRIGHT: tuple[tuple[str, str, str], ...] = (
    ("spring", "seat", "mount"),
    ("damper", "lower eye", "upper mount"),
    ("stop", "pad", "mount"),
)


def links(layout: str, given: Iterable[str]) -> tuple[str, ...]:
    """Return the names of the links that hardpoints make on a layout, in the order given.

    >>> links("links_track_rod", ["lower_link_axle", "lower_link_chassis", "upper_link_axle", "upper_link_chassis"])
    ('lower_link', 'upper_link')
    """
    if not LAYOUTS[layout].links:
        return ()
    return tuple(dict.fromkeys(m[1] for name in given if (m := _LINK_END.fullmatch(name)) and m[1] != "drag_link"))


def rods(layout: str, given: Iterable[str]) -> tuple[str, ...]:
    """Return the names of rods that a limiter may name on a layout with these hardpoints.

    >>> rods("links_track_rod", ["lower_link_axle", "lower_link_chassis"])
    ('track_rod', 'drag_link', 'tie_rod', 'lower_link')
    """
    track_rod = ("track_rod",) if _TRACK_ROD[0] in LAYOUTS[layout].required else ()
    return (*track_rod, "drag_link", "tie_rod", *links(layout, given))


def hardpoints(layout: str, given: Iterable[str] = ()) -> tuple[str, ...]:
    """Return every hardpoint that may be given on a layout: required ones first, then steering, links, right sides."""
    table = LAYOUTS[layout]
    names = [*table.required, *STEERING, *STEERING_OPTIONAL]
    if table.links:
        own = links(layout, given)
        names += [f"{link}_{end}" for link in (*own, "lower_link", "upper_link") for end in ("axle", "chassis")]
    if "arm" in table.bodies:
        names += [f"{part}_arm" for part in ON_ARM]
    right = [f"{name}_right" for name in names if name not in table.central and name != "tie_rod_left"]
    return tuple(dict.fromkeys((*names, *right, "tie_rod_right")))


def ends(layout: str, hardpoint: str, given: Iterable[str] = ()) -> tuple[str, ...]:
    """Return the bodies on which a kit may move a hardpoint; none for the wheel centre, which is measured.

    >>> ends("arms_track_rod", "arm_axle_front"), ends("arms_track_rod", "track_rod_chassis")
    (('arm', 'axle'), ('chassis',))
    """
    name = side_apart(hardpoint)[0]
    if name == "wheel_centre":
        return ()
    if name in LAYOUTS[layout].joints:
        return ("arm", "chassis" if name.endswith("_chassis") else "axle")
    special = {
        "king_pin_lower": ("axle",),
        "king_pin_upper": ("axle",),
        "tie_rod": ("knuckle",),
        "drag_link_axle": ("knuckle",),
        "drag_link_pitman": ("pitman",) if "pitman_shaft" in given else ("chassis",),
        "pitman_shaft": ("chassis",),
        "pitman_shaft_top": ("chassis",),
    }
    if name in special:
        return special[name]
    return tuple(body for body in ("axle", "chassis", "arm") if name.endswith(f"_{body}"))


def side_apart(hardpoint: str) -> tuple[str, str]:
    """Return a hardpoint's name without its side, and the side ("" if none is said).

    >>> side_apart("spring_axle_right"), side_apart("spring_axle")
    (('spring_axle', 'right'), ('spring_axle', ''))
    """
    for side in ("left", "right"):
        if hardpoint.endswith(f"_{side}"):
            return hardpoint.removesuffix(f"_{side}"), side
    return hardpoint, ""
