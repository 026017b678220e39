"""The map of a pair of independent wheels for heights, travel and the moving vehicle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
from scipy.interpolate import CubicHermiteSpline, CubicSpline

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap, BodyPath
from tussock.mechanics.linkage.hardpoints import MIRROR
from tussock.mechanics.linkage.maps import MAP_PARTS, uniform_grid
from tussock.mechanics.linkage.model import CHASSIS
from tussock.mechanics.linkage.solution import Solution
from tussock.mechanics.linkage.wheel import Wheel
from tussock.mechanics.linkage.wheel_sweep import lower_arm_angle

WHEEL_HEAVE_RANGE = 0.14
WHEEL_ROLL_RANGE = float(np.deg2rad(10.0))
#: Wheels are solved at travels this far apart; cubics with exact slopes go between [m].
TRAVEL_STEP = 0.0025


def axle_map_of_wheels(
    wheel: Wheel,
    heave: Floats | None = None,
    roll: Floats | None = None,
    *,
    right: Wheel | None = None,
    steer: float = 0.0,
    springing: Literal["coil", "torsion bar"] = "coil",
    torque_on: Literal["body", "upright"] = "body",
) -> AxleMap:
    """Map of two independent wheels for heights, travel and the moving vehicle.

    Each wheel is solved once over its travel, at heave plus or minus half the track times sin(roll); the right one is
    the left one's mirror image unless given.

    Parameters
    ----------
    wheel : Wheel
        The left wheel, with attachments ``damper``, ``stop`` and, on coils, ``spring``; built without a spring or
        torsion bar of its own, which would count twice.
    heave, roll : array, optional
        Uniform, rising [m], [rad]; 15 values over +-140 mm and 13 over +-10 deg if not given.
    right : Wheel, optional
        The right wheel where it is not the mirror image, built with ``side="right"``.
    steer : float, optional
        Where the steering is held: rack travel to the left [m] or pitman angle, left positive [rad].
    springing : {'coil', 'torsion bar'}
        Whether the map's `spring` is the distance of the seats or minus the turn of the lower arm.
    torque_on : {'body', 'upright'}
        What takes the torque of drive and brakes: the body through a final drive on it, or the upright.

    Returns
    -------
    AxleMap
        Its `reach` says how far the wheels were solved; beyond it every curve goes on straight. Its `bar` is the twist
        between the bar's arms, zero without a bar.

    Raises
    ------
    SolverError
        If a wheel cannot be reached at all, or not over a third of the grid's heave.
    InputError
        A grid that is not uniform and rising, a missing attachment, a wheel with a spring in it.

    Examples
    --------
    >>> import numpy as np
    >>> from tussock.mechanics.linkage import axle_map_of_wheels, build_wheel
    >>> points = {
    ...     "wheel_centre": (0.0, 0.78, 0.36), "lower_ball": (0.0, 0.70, 0.26), "upper_ball": (-0.01, 0.66, 0.52),
    ...     "lower_arm_front": (0.12, 0.32, 0.28), "lower_arm_rear": (-0.20, 0.32, 0.27),
    ...     "upper_arm_front": (0.08, 0.42, 0.54), "upper_arm_rear": (-0.12, 0.42, 0.53),
    ...     "tie_rod_outer": (0.14, 0.68, 0.30), "tie_rod_inner": (0.14, 0.33, 0.315),
    ...     "spring_lower_arm": (0.0, 0.59, 0.29), "spring_chassis": (-0.02, 0.47, 0.69),
    ...     "damper_lower_arm": (0.0, 0.59, 0.29), "damper_chassis": (-0.02, 0.47, 0.69),
    ...     "stop_lower_arm": (0.06, 0.52, 0.30), "stop_chassis": (0.06, 0.50, 0.38),
    ... }
    >>> table = {name: np.array(point) for name, point in points.items()}
    >>> axle = axle_map_of_wheels(build_wheel("double_wishbone", table, wheel_radius=0.36))
    >>> axle.spring.shape, round(1e3 * float(axle.spring[7, 6, 0]))
    ((15, 13, 2), 418)
    """
    h = np.linspace(-WHEEL_HEAVE_RANGE, WHEEL_HEAVE_RANGE, 15) if heave is None else np.asarray(heave, dtype=np.float64)
    r = np.linspace(-WHEEL_ROLL_RANGE, WHEEL_ROLL_RANGE, 13) if roll is None else np.asarray(roll, dtype=np.float64)
    uniform_grid(wheel.name, h, r)
    if right is not None and (right.side != "right" or float(np.abs(right.centre - wheel.centre).max()) > 1e-6):
        raise InputError(f"{right.name}: build it for the right side, its centre opposite to the left one's")
    half = float(wheel.centre[1])
    lean = half * np.sin(r)
    left_path = _Path.of(wheel, h, lean, steer, springing)
    # the mirror image of a steer to the left is one to the right
    right_path = _Path.of(right, h, -lean, steer, springing) if right else _Path.of(wheel, h, -lean, -steer, springing)
    paths = (left_path, right_path)
    mirror = (1.0, -1.0)

    def pair(name: str, signs: tuple[float, float] = (1.0, 1.0)) -> Floats:
        return np.stack([sign * path.values[name] for path, sign in zip(paths, signs, strict=True)], axis=-1)

    bodies = (left_path.bodies, {name: _mirrored(path) for name, path in right_path.bodies.items()})
    pitch = np.zeros((h.size, r.size))
    if torque_on == "upright":
        pitch = 0.5 * (left_path.values["pitch"] + right_path.values["pitch"])
    return AxleMap(
        heave=h,
        roll=r,
        centre_z0=float(wheel.centre[2]),
        design_x=float(wheel.centre[0]),
        track=2.0 * half,
        wheel_x=pair("x"),
        wheel_y=pair("y", mirror),
        inclination=pair("inclination", mirror),
        steer=pair("steer", mirror),
        pitch=pitch,
        spring=pair("spring"),
        damper=pair("damper"),
        stop=pair("stop"),
        bar=left_path.values["bar"] - right_path.values["bar"],
        energy=left_path.values["energy"] + right_path.values["energy"],
        reach=(max(p.reach[0] for p in paths), min(p.reach[1] for p in paths)),
        bodies=bodies,
        carrier="upright",
    )


class _AtNodes(Protocol):
    def __call__(self, value: Floats, slope: Floats) -> Floats:
        """Read curves over travel at the nodes."""


@dataclass(frozen=True, kw_only=True)
class _Path:
    """One wheel, as a left one, at the nodes of a map."""

    values: dict[str, Floats]
    bodies: dict[str, BodyPath]
    reach: tuple[float, float]

    @classmethod
    def of(cls, wheel: Wheel, heave: Floats, lean: Floats, steer: float, springing: str) -> _Path:
        """Solve a wheel and read it at travels ``heave + lean`` (nh, nr)."""
        parts = [part for part in MAP_PARTS if springing == "coil" or part != "spring"]
        missing = [part for part in parts if part not in wheel.attachments]
        if missing:
            raise InputError(
                f"{wheel.name}: a map needs the seats of {', '.join(missing)}: hardpoints '{missing[0]}_chassis' and "
                f"'{missing[0]}_<body>'"
            )
        if any(element.spring for element in wheel.linkage.elements):
            raise InputError(f"{wheel.name}: build the wheel of a map without spring and torsion bar")
        wanted = heave[:, None] + lean
        far = np.ceil(float(np.abs(wanted).max()) / TRAVEL_STEP)
        travel, s = wheel.solve_within(TRAVEL_STEP * np.arange(-far, far + 1.0), steer)
        least = float(np.ptp(heave)) / 3.0
        if float(np.ptp(travel)) < least:
            raise InputError(
                f"{wheel.name}: the linkage reaches travels from {1e3 * travel[0]:.0f} to {1e3 * travel[-1]:.0f} mm "
                f"only; a map needs {1e3 * least:.0f} mm at least"
            )
        inside = np.clip(wanted, travel[0], travel[-1])

        def at_nodes(value: Floats, slope: Floats) -> Floats:
            curve = CubicHermiteSpline(travel, value, slope)
            beyond = (wanted - inside).reshape(wanted.shape + (1,) * (value.ndim - 1))
            return np.asarray(curve(inside) + beyond * curve(inside, 1))

        values = {name: at_nodes(*both) for name, both in _curves(wheel, s, parts).items()}
        return cls(
            values=values,
            bodies={body.name: _body_path(s, k, at_nodes) for k, body in enumerate(wheel.linkage.bodies)},
            reach=(float(travel[0]), float(travel[-1])),
        )


def _curves(wheel: Wheel, s: Solution, parts: list[str]) -> dict[str, tuple[Floats, Floats]]:
    """Value and slope over travel of all that a map reads of a wheel."""
    spin, d_spin = s.direction("upright", wheel.spin), s.direction_slope("upright", wheel.spin)[:, 0]
    centre, d_centre = s.point("upright", wheel.centre), s.point_slope("upright", wheel.centre)[:, 0]
    level = spin[:, 0] ** 2 + spin[:, 1] ** 2
    angle, d_angle = lower_arm_angle(wheel, s)
    # the work of a torque about the y axis: the upright's turning about it added up, not an angle of its attitude
    turn = s.twist[:, s.linkage.index["upright"], 0, 4]
    travel = s.inputs[:, 0] - wheel.centre[2]
    turned = CubicSpline(travel, turn).antiderivative()
    found = {
        "x": (centre[:, 0], d_centre[:, 0]),
        "y": (centre[:, 1], d_centre[:, 1]),
        "inclination": (np.arcsin(spin[:, 2]), d_spin[:, 2] / np.sqrt(level)),
        "steer": (
            np.arctan2(-spin[:, 0], spin[:, 1]),
            (-d_spin[:, 0] * spin[:, 1] + spin[:, 0] * d_spin[:, 1]) / level,
        ),
        "pitch": (turned(travel) - turned(0.0), turn),
        "energy": (s.energy - wheel.home.energy[0], s.force[:, 0]),
        "spring": (-angle, -d_angle),
        "bar": (np.zeros_like(angle), np.zeros_like(angle)),
    }
    if wheel.bar_arm is not None:
        # about the axis to the left, so a rising arm that points forward turns nose up: count it from the arm's rise
        place = int(wheel.linkage.tables.bi[wheel.linkage.index["bar"], 2])
        up = np.sign(s.slope[int(np.argmin(np.abs(s.inputs[:, 0] - wheel.centre[2]))), place, 0])
        found["bar"] = (up * s.coordinates[:, place], up * s.slope[:, place, 0])
    for part in parts:
        seat = wheel.attachments[part]
        length, slope = s.length(CHASSIS, seat.chassis, seat.body, seat.at)
        found[part] = (length, slope[:, 0])
    return found


def _body_path(s: Solution, k: int, at_nodes: _AtNodes) -> BodyPath:
    turn = s.twist[:, k, 0, 3:]
    rate = np.cross(turn[:, None, :], np.moveaxis(s.rotation[:, k], 1, 2))
    return BodyPath(
        stock=s.linkage.bodies[k].at,
        position=at_nodes(s.position[:, k], s.twist[:, k, 0, :3]),
        rotation=at_nodes(s.rotation[:, k], np.moveaxis(rate, 1, 2)),
    )


def _mirrored(path: BodyPath) -> BodyPath:
    return BodyPath(
        stock=path.stock * MIRROR,
        position=path.position * MIRROR,
        rotation=path.rotation * np.outer(MIRROR, MIRROR),
    )
