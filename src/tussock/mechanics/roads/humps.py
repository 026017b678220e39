"""Traffic humps with published dimensions, ready to be laid on a section.

References
----------
.. [1] Watts, TRRL Laboratory Report 597 (1973), and TRL Report 377: circular profile, 3.7 m long, up to 100 mm.
.. [2] TRL Report 186 and Traffic Advisory Leaflet 2/96: usual reduced height 75 mm, ramps 1:10 to 1:15.
.. [3] TRL Project Report 101: thermoplastic hump 37 mm by 900 mm, circular.
.. [4] TRL Project Report 32: 50 mm by 900 mm, found too harsh; speed cushion 75 mm with 1:8 ramps.
.. [5] Belgian Road Research Centre: sinusoidal 120 mm by 4.8 m (85th percentile speed 30 km/h).
.. [6] Parabolic hump 12 ft by 3.25 to 3.75 in, city of Independence; 22 ft flat top as 6 + 10 + 6 ft from memory.
.. [7] Danish circular humps, R 20 m (4 m by 0.10 m) for 30 km/h and R 113 m (9.5 m by 0.10 m) for 50 km/h: from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

from tussock.errors import DomainError
from tussock.mechanics.roads.features import Value
from tussock.mechanics.roads.section import Feature

_FOOT, _INCH = 0.3048, 0.0254


@dataclass(frozen=True, kw_only=True, slots=True)
class PublishedHump:
    """Dimensions of a hump [m] and where they stand in print."""

    length: float
    height: float
    shape: str
    source: str
    ramp: float = 0.0

    def feature(self, at: float) -> Feature:
        """Return the hump as an obstacle that starts `at` metres into a section."""
        values: dict[str, Value] = {"length": self.length, "height": self.height, "shape": self.shape}
        if self.ramp:
            values["ramp"] = self.ramp
        return Feature(kind="hump", at=at, parameters=values)


PUBLISHED_HUMPS: dict[str, PublishedHump] = {
    "round_top_3700_100": PublishedHump(length=3.7, height=0.1, shape="round_top", source="TRRL LR 597, TRL 377"),
    "round_top_3700_75": PublishedHump(length=3.7, height=0.075, shape="round_top", source="TRL 186, TAL 2/96"),
    "thump_900_37": PublishedHump(length=0.9, height=0.037, shape="round_top", source="TRL PR 101"),
    "short_900_50": PublishedHump(length=0.9, height=0.05, shape="round_top", source="TRL PR 32 (found too harsh)"),
    "sinusoidal_4800_120": PublishedHump(
        length=4.8, height=0.12, shape="sinusoidal", source="Belgian Road Research Centre"
    ),
    "sinusoidal_3700_100": PublishedHump(
        length=3.7, height=0.1, shape="sinusoidal", source="trial hump of TRL 377, from memory"
    ),
    "parabolic_12ft_3in5": PublishedHump(
        length=12.0 * _FOOT, height=3.5 * _INCH, shape="parabolic", source="city code, 12 ft by 3.25 to 3.75 in"
    ),
    "flat_top_22ft_3in": PublishedHump(
        length=22.0 * _FOOT, height=3.0 * _INCH, shape="flat_top", ramp=6.0 * _FOOT, source="6 + 10 + 6 ft, from memory"
    ),
    "table_8950_75": PublishedHump(
        length=7.0 + 2.0 * 13.0 * 0.075,
        height=0.075,
        shape="flat_top",
        ramp=13.0 * 0.075,
        source="county design guide: plateau 7 m, 75 mm, ramps 1:13",
    ),
    "circular_4000_100": PublishedHump(
        length=4.0, height=0.1, shape="round_top", source="Danish practice for 30 km/h, from memory"
    ),
    "circular_9500_100": PublishedHump(
        length=9.5, height=0.1, shape="round_top", source="Danish practice for 50 km/h, from memory"
    ),
}


def published_hump(name: str, at: float) -> Feature:
    """Return a published hump as an obstacle that starts `at` metres into a section.

    >>> published_hump("round_top_3700_75", 50.0).parameters["height"]
    0.075
    """
    if name not in PUBLISHED_HUMPS:
        raise DomainError(f"hump {name!r} is not among the published ones: {', '.join(PUBLISHED_HUMPS)}")
    return PUBLISHED_HUMPS[name].feature(at)
