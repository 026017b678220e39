"""Pictures of the modes study: motions as a map, and how seat, wheel loads, yaw and path answer."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import Row, input_response, path_response, road_response
from tussock.studies.job import Setup
from tussock.studies.result import Axis, Line, LineChart, Role

if TYPE_CHECKING:
    from tussock.studies.modes import Swinging

_RIDE = np.linspace(0.3, 20.0, 198)  # [Hz]
_HANDLING = np.linspace(0.1, 4.0, 118)


def name_of(setup: Setup) -> str:
    """Return a setup's build as people say it."""
    return "stock" if setup.stock else setup.build


def pictures(here: Swinging, there: Swinging) -> tuple[LineChart, ...]:
    """Return the pictures of a build against another."""
    both = (here,) if here.setup == there.setup else (there, here)
    return (_map(both), _seat(both), *_loads(both), *_steer(both), _gust(both))


def _role(one: Swinging) -> Role:
    return "stock" if one.setup.stock else "build"


def _map(both: Sequence[Swinging]) -> LineChart:
    *others, here = both
    lines = [
        Line(
            label=name_of(o.setup),
            x=tuple(m.frequency for m in o.modes),
            y=tuple(m.damping for m in o.modes),
            role=_role(o),
            dots=True,
        )
        for o in others
    ]
    lines += [Line(label=m.shape, x=(m.frequency,), y=(m.damping,), role=_role(here), dots=True) for m in here.modes]
    return LineChart(
        key="modes",
        title=f"{name_of(here.setup)}: each motion by its frequency and how well it is damped",
        x=Axis(title="frequency", kind="frequency"),
        y=Axis(title="damping ratio", kind="ratio"),
        lines=tuple(lines),
    )


def _curves(both: Sequence[Swinging], x: Floats, values: Sequence[Floats]) -> tuple[Line, ...]:
    return tuple(
        Line(label=name_of(one.setup), x=tuple(map(float, x)), y=tuple(map(float, y)), role=_role(one), marked=False)
        for one, y in zip(both, values, strict=True)
    )


def _road(both: Sequence[Swinging], rows: Sequence[Row]) -> list[Floats]:
    return [np.abs(road_response(one.model, [row], _RIDE)[:, 0]) for one, row in zip(both, rows, strict=True)]


def _seat(both: Sequence[Swinging]) -> LineChart:
    # over the road's vertical speed: a road of waviness 2 has the same of it at every frequency
    gains = [g / (2.0 * np.pi * _RIDE) for g in _road(both, [one.seat_acceleration() for one in both])]
    return LineChart(
        key="seat_response",
        title="Driver's seat, vertical: acceleration for each m/s of vertical road speed, both tracks together",
        x=Axis(title="frequency", kind="frequency"),
        y=Axis(title="acceleration over road speed", kind="per_second"),
        lines=_curves(both, _RIDE, gains),
    )


def _loads(both: Sequence[Swinging]) -> tuple[LineChart, ...]:
    return tuple(
        LineChart(
            key=f"load_response_{end}",
            title=f"{end.capitalize()} left wheel: change of load for each mm of road height, both tracks together",
            x=Axis(title="frequency", kind="frequency"),
            y=Axis(title="load over road height", kind="rate"),
            lines=_curves(both, _RIDE, _road(both, [one.model.row(f"wheel load {end} left") for one in both])),
        )
        for end in ("front", "rear")
    )


def _steer(both: Sequence[Swinging]) -> tuple[LineChart, ...]:
    def gains(rows: Sequence[Row]) -> list[Floats]:
        return [
            np.abs(input_response(one.model, [row], "steer", _HANDLING)[:, 0])
            for one, row in zip(both, rows, strict=True)
        ]

    return (
        LineChart(
            key="yaw_response",
            title="Yaw rate over the hand wheel's angle, that divided by the steering ratio",
            x=Axis(title="frequency", kind="frequency"),
            y=Axis(title="yaw rate over steer", kind="per_second"),
            lines=_curves(both, _HANDLING, gains([one.model.row("yaw rate") for one in both])),
        ),
        LineChart(
            key="lateral_response",
            title="Lateral acceleration of the sprung centre of mass over the hand wheel's angle by its ratio",
            x=Axis(title="frequency", kind="frequency"),
            y=Axis(title="acceleration over steer", kind="steer_gain"),
            lines=_curves(both, _HANDLING, gains([one.model.acceleration((0.0, 0.0, 0.0), "lateral") for one in both])),
        ),
    )


def _gust(both: Sequence[Swinging]) -> LineChart:
    return LineChart(
        key="gust_response",
        title="Sideways path for each newton of side force at the sprung centre of mass, hand wheel held",
        x=Axis(title="frequency", kind="frequency"),
        y=Axis(title="path over side force", kind="path_gain"),
        lines=_curves(
            both,
            _HANDLING[12:],  # slower than this a held hand wheel lets it go anywhere
            [np.abs(path_response(one.model, "side force", _HANDLING[12:])) for one in both],
        ),
    )
