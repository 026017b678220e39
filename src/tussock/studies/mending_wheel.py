"""The parts that mend lifted independent wheels: upper arms, cam bolts, tie-rod ends, a dropped final drive."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.studies.mending import Adjustment

MOST_ARM = 0.030  # an upper arm sets its ball off by at most this [m]
MOST_CAM = 0.008  # a cam bolt moves a pivot by at most this [m]
MOST_ROD_END = 0.040  # a tie rod's end moves by at most this [m]
MOST_DIFF = 0.040  # a final drive is lowered by at most this [m]
_AXES = {"forward": np.array([1.0, 0.0, 0.0]), "left": np.array([0.0, 1.0, 0.0]), "up": np.array([0.0, 0.0, 1.0])}

Points = Mapping[str, Floats]


def _moved(points: Points, *moves: tuple[str, str, float]) -> Callable[[float], dict[str, Floats]]:
    """Return the function from a size to hardpoints moved by it: (``point@body``, direction, share)."""
    return lambda size: {
        name: np.asarray(points[name.partition("@")[0]] + size * share * _AXES[way]) for name, way, share in moves
    }


def caster_ways(points: Points, end: str) -> tuple[Adjustment, ...]:
    """Return the parts that turn caster back: upper arms with their ball set rearward, cam bolts of the lower arms."""
    ways: list[Adjustment] = []
    if "upper_ball" in points:
        ways.append(
            Adjustment(
                key="upper_arm_caster",
                title="upper arm",
                end=end,
                most=MOST_ARM,
                step=5e-4,
                changes=_moved(points, ("upper_ball@upper_arm", "forward", -1.0)),
                more="upper arms with the ball set {} rearward",
                less="upper arms with the ball set {} forward",
                kind="length_fine",
            )
        )
    if "lower_arm_front" in points:
        ways.append(
            Adjustment(
                key="lower_arm_cams",
                title="cam bolts",
                end=end,
                most=MOST_CAM,
                step=5e-4,
                changes=_moved(
                    points, ("lower_arm_front@chassis", "left", 1.0), ("lower_arm_rear@chassis", "left", -1.0)
                ),
                more="cam bolts that move the lower arms' pivots by {}",
                less="cam bolts that move the lower arms' pivots by {}",
                kind="length_fine",
            )
        )
    return tuple(ways)


def camber_ways(points: Points, end: str) -> tuple[Adjustment, ...]:
    """Return the part that sets camber back: upper arms with their ball set inward or outward."""
    if "upper_ball" not in points:
        return ()
    return (
        Adjustment(
            key="upper_arm_camber",
            title="upper arm",
            end=end,
            most=MOST_ARM,
            step=5e-4,
            changes=_moved(points, ("upper_ball@upper_arm", "left", 1.0)),
            more="upper arms with the ball set {} outward",
            less="upper arms with the ball set {} inward",
            kind="length_fine",
        ),
    )


def steer_ways(points: Points, end: str, steering: str) -> tuple[Adjustment, ...]:
    """Return the ends of the tie rod that may be moved for the least steer over the travel."""
    if "tie_rod_inner" not in points:
        return ()
    inner = {"rack": "rack", "relay": "relay"}.get(steering, "chassis")
    return tuple(
        Adjustment(
            key=key,
            title=title,
            end=end,
            most=MOST_ROD_END,
            step=1e-3,
            changes=_moved(points, (point, "up", 1.0)),
            refit=("tie_rod",),
            more=f"{words} raised by {{}}",
            less=f"{words} lowered by {{}}",
        )
        for key, title, point, words in (
            ("tie_rod_outer", "tie-rod end", "tie_rod_outer@upright", "the tie rods' outer ends"),
            ("steering_rack", f"{inner} mounts", f"tie_rod_inner@{inner}", f"the {inner}"),
        )
    )


def drive_ways(points: Points, end: str) -> tuple[Adjustment, ...]:
    """Return the part that straightens drive shafts: a final drive hung lower."""
    if "drive_inner" not in points:
        return ()
    return (
        Adjustment(
            key="final_drive_drop",
            title="final-drive drop brackets",
            end=end,
            most=MOST_DIFF,
            step=1e-3,
            changes=_moved(points, ("drive_inner@chassis", "up", -1.0)),
            more="brackets that lower the final drive by {}",
            less="brackets that raise the final drive by {}",
        ),
    )
