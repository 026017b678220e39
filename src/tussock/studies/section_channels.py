"""Channels of a driven section that people look at: what each is, and how it is read from the history."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion.simulate import History
from tussock.studies.section_measures import Points

WHEELS = ("front left", "front right", "rear left", "rear right")


@dataclass(frozen=True, kw_only=True, slots=True)
class Channel:
    """One channel: key, title in words, kind of its numbers, and how it is read.

    `read` takes the history and where vibration is taken, about the sprung centre of mass; SI, one value a sample.
    """

    key: str
    title: str
    kind: str
    read: Callable[[History, Points], Floats]


def _at(where: str, axis: int) -> Callable[[History, Points], Floats]:
    return lambda h, points: h.acceleration_at(getattr(points, where))[:, axis]


def _wheel(name: str, wheel: int) -> Callable[[History, Points], Floats]:
    return lambda h, points: np.asarray(getattr(h, name)[:, wheel])


def _body(name: str, column: int) -> Callable[[History, Points], Floats]:
    return lambda h, points: np.asarray(getattr(h, name)[:, column])


# Of each wheel: key, title, kind, and its name in the history.
_WHEEL_CHANNELS = (
    ("load", "wheel load", "force", "wheel_load"),
    ("damper_speed", "damper speed, compression positive", "velocity", "damper_velocity"),
    ("damper_force", "damper force", "force", "damper_force"),
    ("spring", "spring length", "length", "spring_length"),
    ("stop", "bump stop force", "force", "stop_force"),
    ("side", "side force of the tyre", "force", "side_force"),
)

CHANNELS: dict[str, Channel] = {
    channel.key: channel
    for channel in (
        Channel(key="seat_up", title="driver's seat, vertical acceleration", kind="acceleration", read=_at("seat", 2)),
        Channel(key="seat_side", title="driver's seat, lateral acceleration", kind="acceleration", read=_at("seat", 1)),
        Channel(
            key="seat_along", title="driver's seat, fore-aft acceleration", kind="acceleration", read=_at("seat", 0)
        ),
        Channel(key="head_side", title="driver's head, lateral acceleration", kind="acceleration", read=_at("head", 1)),
        Channel(key="roll_rate", title="roll rate of the body", kind="rotation_speed", read=_body("velocity", 0)),
        Channel(key="pitch_rate", title="pitch rate of the body", kind="rotation_speed", read=_body("velocity", 1)),
        Channel(key="yaw_rate", title="yaw rate of the body", kind="rotation_speed", read=_body("velocity", 2)),
        *(
            Channel(
                key=f"{key}_{wheel.replace(' ', '_')}",
                title=f"{wheel} {title}",
                kind=kind,
                read=_wheel(name, i),
            )
            for key, title, kind, name in _WHEEL_CHANNELS
            for i, wheel in enumerate(WHEELS)
        ),
    )
}
USUAL = "seat_up"


def outline(time: Floats, values: Floats, most: int) -> tuple[Floats, Floats]:
    """Return a history of at most `most` points that keeps every peak: least and greatest of each stretch, in order.

    Parameters
    ----------
    time, values : array (n,)
        [s], anything.
    most : int
        Points kept, 4 at least.

    Returns
    -------
    time, values : array (m,)
        Samples of the history itself, m <= most.
    """
    n = values.size
    if n <= most:
        return time, values
    edges = np.linspace(0, n, most // 2 + 1).astype(int)
    kept: list[int] = []
    for start, end in pairwise(edges):
        piece = values[start:end]
        kept += sorted({start + int(np.argmin(piece)), start + int(np.argmax(piece))})
    return time[kept], values[kept]
