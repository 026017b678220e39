"""Which hardpoints, rods and joints each suspension layout and steering has; the mechanics holds the same (tested)."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class SteeringNames:
    """Names that a programme uses for what steers an axle, or holds its tie rods.

    Attributes
    ----------
    words : str
        What it is.
    required, optional : tuple of str
        Hardpoints that must and that may be given.
    central : frozenset of str
        Those of them that stand once.
    rods : tuple of str
        Rods that it has.
    ends : mapping of hardpoint to tuple of str
        Bodies that end at each hardpoint.
    """

    words: str
    required: tuple[str, ...]
    optional: tuple[str, ...] = ()
    central: frozenset[str] = frozenset()
    rods: tuple[str, ...] = ("tie_rod",)
    ends: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Names that a programme uses for one suspension layout.

    Attributes
    ----------
    words : str
        The layout in words.
    required, optional : tuple of str
        Hardpoints that must and that may be given.
    parts : tuple of str
        Parts between the chassis and a body: each has `<part>_chassis` and one `<part>_<body>`.
    carriers : tuple of str
        Bodies that such a part may sit on, the usual one first.
    groups : tuple of tuple of str
        Hardpoints that are given all together or not at all.
    central : frozenset of str
        Hardpoints that exist once and may lie anywhere across; all others are left ones, mirrored to the right.
    joints : tuple of str
        Bushed joints with radial, axial, conical and torsional rates.
    bushes_needed : bool
        Whether those rates must be given; left out, such a joint is rigid.
    balls : tuple of str
        Ball joints, whose angle a limiter may watch.
    links : bool
        Every pair of hardpoints `<name>_link_axle`, `<name>_link_chassis` makes a link, with one stiffness or rigid.
    least_links : int
        Pairs that it needs; how well they hold it, the linkage solver says.
    rods : tuple of str
        Rods that it has beside those of its steering.
    bodies : tuple of str
        Bodies that it consists of, beside the chassis.
    steerings : tuple of str
        Keys of `STEERINGS` that it can have.
    unsteered : str
        Key of the one that holds its tie rods when it does not steer; "" where it has none.
    springs : tuple of str
        Kinds of spring that it can have.
    independent : bool
        Whether each wheel moves for itself.
    ends : mapping of hardpoint to tuple of str
        Bodies that end at a hardpoint, where its name does not say so.
    """

    words: str
    required: tuple[str, ...]
    optional: tuple[str, ...] = ()
    parts: tuple[str, ...] = ("spring", "damper", "stop")
    carriers: tuple[str, ...] = ("axle",)
    groups: tuple[tuple[str, ...], ...] = ()
    central: frozenset[str] = frozenset()
    joints: tuple[str, ...] = ()
    bushes_needed: bool = False
    balls: tuple[str, ...] = ()
    links: bool = False
    least_links: int = 0
    rods: tuple[str, ...] = ()
    bodies: tuple[str, ...] = ("axle",)
    steerings: tuple[str, ...] = ("drag_link",)
    unsteered: str = ""
    springs: tuple[str, ...] = ("coil",)
    independent: bool = False
    ends: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


_TRACK_ROD = ("track_rod_axle", "track_rod_chassis")
_TIE_RODS = ("tie_rod_inner", "tie_rod_outer")
_BOX = ("pitman_shaft", "pitman_ball", "idler_shaft", "idler_ball")

STEERINGS: dict[str, SteeringNames] = {
    # the tie rod is named by its left end, its right end is the mirror
    "drag_link": SteeringNames(
        words="steering box with a drag link to one knuckle and a tie rod across",
        required=("king_pin_lower", "king_pin_upper", "tie_rod_left", "drag_link_axle", "drag_link_pitman"),
        optional=("pitman_shaft", "pitman_shaft_top"),
        central=frozenset(("drag_link_axle", "drag_link_pitman", "pitman_shaft", "pitman_shaft_top")),
        rods=("drag_link", "tie_rod"),
        ends={
            "king_pin_lower": ("axle",),
            "king_pin_upper": ("axle",),
            "tie_rod": ("knuckle",),
            "drag_link_axle": ("knuckle",),
            "drag_link_pitman": ("pitman",),
            "pitman_shaft": ("chassis",),
            "pitman_shaft_top": ("chassis",),
        },
    ),
    "rack": SteeringNames(
        words="steering rack",
        required=_TIE_RODS,
        ends={"tie_rod_inner": ("rack",), "tie_rod_outer": ("upright",)},
    ),
    "relay": SteeringNames(
        words="steering box with pitman arm, relay rod and idler arm",
        required=(*_TIE_RODS, *_BOX),
        optional=("pitman_shaft_top", "idler_shaft_top"),
        central=frozenset((*_BOX, "pitman_shaft_top", "idler_shaft_top")),
        ends={
            "tie_rod_inner": ("relay",),
            "tie_rod_outer": ("upright",),
            "pitman_ball": ("pitman", "relay"),
            "idler_ball": ("idler", "relay"),
            **{name: ("chassis",) for name in ("pitman_shaft", "pitman_shaft_top", "idler_shaft", "idler_shaft_top")},
        },
    ),
    "fixed": SteeringNames(
        words="tie rods to the chassis, no steering",
        required=_TIE_RODS,
        ends={"tie_rod_inner": ("chassis",), "tie_rod_outer": ("upright",)},
    ),
}

_DRIVE = ("drive_inner", "drive_outer")
_BAR = ("bar_pivot", "drop_link_bar")
_LOWER_ARM = ("lower_arm_front", "lower_arm_rear")
_UPPER_ARM = ("upper_arm_front", "upper_arm_rear")
_WHEEL_ENDS: dict[str, tuple[str, ...]] = {
    "lower_ball": ("lower_arm", "upright"),
    "upper_ball": ("upper_arm", "upright"),
    **{name: ("chassis",) for name in (*_LOWER_ARM, *_UPPER_ARM, "strut_top", "drive_inner")},
    "strut_lower": ("upright",),
    "drive_outer": ("upright",),
    "bar_pivot": ("chassis",),
    "bar_pivot_top": ("chassis",),
    "drop_link_bar": ("bar",),
}

LAYOUTS: dict[str, Layout] = {
    "arms_track_rod": Layout(
        words="rigid axle on two leading or trailing arms and a track rod",
        required=("wheel_centre", "arm_chassis", "arm_axle_front", "arm_axle_rear", *_TRACK_ROD),
        carriers=("axle", "arm"),
        central=frozenset(_TRACK_ROD),
        joints=("arm_chassis", "arm_axle_front", "arm_axle_rear"),
        bushes_needed=True,
        rods=("track_rod",),
        bodies=("axle", "arm"),
        ends={
            "arm_chassis": ("arm", "chassis"),
            "arm_axle_front": ("arm", "axle"),
            "arm_axle_rear": ("arm", "axle"),
        },
    ),
    "links_track_rod": Layout(
        words="rigid axle on three, four or five links and a track rod",
        required=("wheel_centre", *_TRACK_ROD),
        central=frozenset(_TRACK_ROD),
        links=True,
        least_links=2,
        rods=("track_rod",),
    ),
    "links": Layout(
        words="rigid axle on links alone, some of them at an angle to hold it sideways",
        required=("wheel_centre",),
        links=True,
        least_links=2,
    ),
    "leaf_springs": Layout(
        words="rigid axle on leaf springs, a shackle at one end of each; links beside them if there are any",
        required=("wheel_centre", "leaf_seat", "fixed_eye", "shackle_eye", "shackle_pivot"),
        optional=("leaf_seat_front",),
        parts=("damper", "stop"),
        joints=("fixed_eye", "shackle_eye", "shackle_pivot"),
        bushes_needed=True,
        links=True,
        bodies=("axle", "fixed_leaf", "shackle_leaf", "shackle"),
        springs=("leaf",),
        ends={
            "fixed_eye": ("fixed_leaf", "chassis"),
            "shackle_eye": ("shackle_leaf", "shackle"),
            "shackle_pivot": ("shackle", "chassis"),
            "leaf_seat": ("axle",),
            "leaf_seat_front": ("axle",),
        },
    ),
    "double_wishbone": Layout(
        words="independent wheels on an upper and a lower arm",
        required=("wheel_centre", "lower_ball", "upper_ball", *_LOWER_ARM, *_UPPER_ARM),
        carriers=("lower_arm", "upper_arm", "upright"),
        groups=(_DRIVE, _BAR),
        joints=(*_LOWER_ARM, *_UPPER_ARM),
        balls=("lower_ball", "upper_ball"),
        bodies=("upright", "lower_arm", "upper_arm"),
        steerings=("rack", "relay"),
        unsteered="fixed",
        springs=("coil", "torsion_bar"),
        independent=True,
        ends=_WHEEL_ENDS,
    ),
    "strut": Layout(
        words="independent wheels on a strut and a lower arm",
        required=("wheel_centre", "lower_ball", "strut_lower", "strut_top", *_LOWER_ARM),
        carriers=("upright", "lower_arm"),
        groups=(_DRIVE, _BAR),
        joints=(*_LOWER_ARM, "strut_top"),
        balls=("lower_ball",),
        bodies=("upright", "lower_arm"),
        steerings=("rack", "relay"),
        unsteered="fixed",
        springs=("coil", "torsion_bar"),
        independent=True,
        ends=_WHEEL_ENDS,
    ),
}

_LINK_END = re.compile(r"([a-z][a-z0-9]{0,20}_link)_(axle|chassis)(_right)?")

#: Pairs that a rod, a spring or a strut spans: name of the part and its two hardpoints.
SPANS: tuple[tuple[str, str, str], ...] = (
    ("track rod", "track_rod_axle", "track_rod_chassis"),
    ("drag link", "drag_link_axle", "drag_link_pitman"),
    ("king pin", "king_pin_lower", "king_pin_upper"),
    ("arm to its front bush", "arm_chassis", "arm_axle_front"),
    ("arm to its rear bush", "arm_chassis", "arm_axle_rear"),
    ("arm between its axle bushes", "arm_axle_front", "arm_axle_rear"),
    ("steering axis", "lower_ball", "upper_ball"),
    ("steering axis", "lower_ball", "strut_top"),
    ("strut", "strut_lower", "strut_top"),
    ("lower arm's pivot line", "lower_arm_front", "lower_arm_rear"),
    ("upper arm's pivot line", "upper_arm_front", "upper_arm_rear"),
    ("lower arm", "lower_arm_front", "lower_ball"),
    ("upper arm", "upper_arm_front", "upper_ball"),
    ("tie rod", "tie_rod_inner", "tie_rod_outer"),
    ("drive shaft", "drive_inner", "drive_outer"),
    ("pitman arm", "pitman_shaft", "pitman_ball"),
    ("idler arm", "idler_shaft", "idler_ball"),
    ("half of the leaf spring", "leaf_seat", "fixed_eye"),
    ("half of the leaf spring", "leaf_seat", "shackle_eye"),
    ("shackle", "shackle_pivot", "shackle_eye"),
    ("arm of the anti-roll bar", "bar_pivot", "drop_link_bar"),
)

#: Parts whose chassis end lies above their other end, with the words for both ends.
UPRIGHT: tuple[tuple[str, str, str], ...] = (
    ("spring", "seat", "mount"),
    ("damper", "lower eye", "upper mount"),
    ("stop", "pad", "mount"),
)


def steering_of(layout: str, kind: str | None) -> str:
    """Return the key of what steers an axle or holds its tie rods; "" for an axle that has neither.

    >>> steering_of("strut", None), steering_of("links", None), steering_of("links", "drag_link")
    ('fixed', '', 'drag_link')
    """
    table = LAYOUTS[layout]
    return kind if kind in table.steerings else table.unsteered


def central(layout: str, steering: str = "") -> frozenset[str]:
    """Return the hardpoints that stand once on a layout with this steering."""
    own = STEERINGS[steering].central if steering else frozenset()
    return LAYOUTS[layout].central | own


def joints(layout: str) -> tuple[str, ...]:
    """Return the bushed joints and ball joints whose angle a limiter may watch."""
    return (*LAYOUTS[layout].joints, *LAYOUTS[layout].balls)


def part_ends(layout: str, part: str) -> tuple[str, ...]:
    """Return the names that the moving end of a part may have, the usual one first.

    >>> part_ends("arms_track_rod", "spring")
    ('spring_axle', 'spring_arm')
    """
    return tuple(f"{part}_{body}" for body in LAYOUTS[layout].carriers)


def links(layout: str, given: Iterable[str]) -> tuple[str, ...]:
    """Return the names of the links that hardpoints make on a layout, in the order given.

    >>> links("links_track_rod", ["lower_link_axle", "lower_link_chassis", "upper_link_axle", "upper_link_chassis"])
    ('lower_link', 'upper_link')
    """
    if not LAYOUTS[layout].links:
        return ()
    return tuple(dict.fromkeys(m[1] for name in given if (m := _LINK_END.fullmatch(name)) and m[1] != "drag_link"))


def rods(layout: str, given: Iterable[str], steering: str = "") -> tuple[str, ...]:
    """Return the names of rods that a limiter may name on a layout with these hardpoints and this steering.

    >>> rods("links_track_rod", ["lower_link_axle", "lower_link_chassis"], "drag_link")
    ('track_rod', 'drag_link', 'tie_rod', 'lower_link')
    """
    points = set(given)
    own = STEERINGS[steering].rods if steering else ()
    drop_link = ("drop_link",) if set(_BAR) <= points and LAYOUTS[layout].independent else ()
    return (*LAYOUTS[layout].rods, *own, *drop_link, *links(layout, given))


def hardpoints(layout: str, given: Iterable[str] = ()) -> tuple[str, ...]:
    """Return every hardpoint that may be given on a layout: required ones first, then steering, links, right sides."""
    table = LAYOUTS[layout]
    names = [*table.required, *table.optional]
    for part in table.parts:
        names += [f"{part}_chassis", *part_ends(layout, part)]
    once = set(table.central)
    for kind in dict.fromkeys((*table.steerings, table.unsteered)):
        if kind:
            names += [*STEERINGS[kind].required, *STEERINGS[kind].optional]
            once |= STEERINGS[kind].central
    for group in table.groups:
        names += group
    if _BAR in table.groups:
        names += ["bar_pivot_top", *part_ends(layout, "drop_link")]
    if table.links:
        own = links(layout, given)
        names += [f"{link}_{end}" for link in (*own, "lower_link", "upper_link") for end in ("axle", "chassis")]
    right = [f"{name}_right" for name in names if name not in once and name != "tie_rod_left"]
    mirrored = ("tie_rod_right",) if "tie_rod_left" in names else ()
    return tuple(dict.fromkeys((*names, *right, *mirrored)))


def ends(layout: str, hardpoint: str, given: Iterable[str] = (), steering: str = "") -> tuple[str, ...]:
    """Return the bodies on which a kit may move a hardpoint; none for the wheel centre, which is measured.

    `steering` is the key of what steers the axle; the layout's first one unless said.

    >>> ends("arms_track_rod", "arm_axle_front"), ends("arms_track_rod", "track_rod_chassis")
    (('arm', 'axle'), ('chassis',))
    >>> ends("double_wishbone", "upper_ball"), ends("double_wishbone", "tie_rod_inner", (), "relay")
    (('upper_arm', 'upright'), ('relay',))
    """
    name = side_apart(hardpoint)[0]
    if name == "wheel_centre":
        return ()
    table = LAYOUTS[layout]
    if name in table.ends:
        return table.ends[name]
    own = STEERINGS[steering or table.steerings[0]].ends
    if name == "drag_link_pitman" and "pitman_shaft" not in given:
        return ("chassis",)
    if name in own:
        return own[name]
    return tuple(body for body in (*table.carriers, *table.bodies, "chassis") if name.endswith(f"_{body}"))[:1]


def side_apart(hardpoint: str) -> tuple[str, str]:
    """Return a hardpoint's name without its side, and the side ("" if none is said).

    >>> side_apart("spring_axle_right"), side_apart("spring_axle")
    (('spring_axle', 'right'), ('spring_axle', ''))
    """
    for side in ("left", "right"):
        if hardpoint.endswith(f"_{side}"):
            return hardpoint.removesuffix(f"_{side}"), side
    return hardpoint, ""
