"""Fixtures that build the invented axles."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from linkage_axles import BUSHES, FRONT, REAR, STIFFNESS, points

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Axle, build_axle


@pytest.fixture
def front() -> Callable[..., Axle]:
    """Front axle on two leading arms with its steering; keywords go to `build_axle`."""

    def make(hardpoints: dict[str, Floats] | None = None, **keywords: object) -> Axle:
        settings: dict[str, object] = {
            "wheel_radius": 0.361, "bushes": BUSHES, "steering": True, "pinion": "rearward", "name": "front axle",
            **keywords,
        }  # fmt: skip
        return build_axle("arms_track_rod", points(FRONT) if hardpoints is None else hardpoints, **settings)  # type: ignore[arg-type]

    return make


@pytest.fixture
def rear() -> Callable[..., Axle]:
    """Rear axle on four links with end bushes; keywords go to `build_axle`."""

    def make(hardpoints: dict[str, Floats] | None = None, **keywords: object) -> Axle:
        settings: dict[str, object] = {
            "wheel_radius": 0.361, "link_stiffness": STIFFNESS, "name": "rear axle", **keywords,
        }  # fmt: skip
        return build_axle("links_track_rod", points(REAR) if hardpoints is None else hardpoints, **settings)  # type: ignore[arg-type]

    return make
