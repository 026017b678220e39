"""A section of a road loop: a random surface and the obstacles on it, driven at one speed."""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.roads.features import builder
from tussock.mechanics.roads.random_road import CLASS_MEAN, random_heights
from tussock.mechanics.roads.track import Track

SPACING = 0.02  # default distance between points [m]
_RUN_IN = 12.0  # level start and end over which the random surface fades in and out [m]


@dataclass(frozen=True, kw_only=True)
class Feature:
    """One obstacle: its kind, where it starts [m] and its parameters in SI."""

    kind: str
    at: float
    parameters: Mapping[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Section:
    """One section of a road loop.

    Attributes
    ----------
    name : str
        What the drivers call it.
    length : float
        [m], at least 1 m.
    speed : float
        [m/s], above 0.
    density : float
        Displacement spectral density at 0.1 cycle/m of the random surface [m^3]; 0 for a smooth one.
    waviness : float
        Exponent of its spectrum [-].
    features : tuple of Feature
        Obstacles; they add up where they overlap.
    """

    name: str
    length: float
    speed: float
    density: float = 0.0
    waviness: float = 2.0
    features: tuple[Feature, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a section that cannot be driven."""
        if not self.length >= 1.0:
            raise DomainError(f"section {self.name!r}: {self.length:g} m is too short; at least 1 m is needed")
        if not self.speed > 0.0:
            raise DomainError(f"section {self.name!r}: speed is {self.speed:g} m/s; it must be above 0")
        if self.density < 0.0:
            raise DomainError(f"section {self.name!r}: spectral density is negative")
        for f in self.features:
            builder(f.kind)
            if not 0.0 <= f.at <= self.length:
                raise DomainError(
                    f"section {self.name!r}: {f.kind} at {f.at:g} m lies outside the section (0 to {self.length:g} m)"
                )

    @property
    def duration(self) -> float:
        """Time to drive it [s]."""
        return self.length / self.speed

    @classmethod
    def of_class(cls, road_class: str, **rest: object) -> Section:
        """Return a section whose random surface is the geometric mean of an ISO 8608 class."""
        if road_class not in CLASS_MEAN:
            raise DomainError(f"ISO 8608 has no class {road_class!r}; the classes are {', '.join(CLASS_MEAN)}")
        return cls(density=CLASS_MEAN[road_class], **rest)  # type: ignore[arg-type]


def section_seed(seed: int, name: str) -> int:
    """Return the seed of a section: the loop's seed and the section's name, so that order does not matter."""
    return (seed * 1_000_003 + zlib.crc32(name.encode())) % (1 << 63)


def build(section: Section, *, track: float, seed: int, spacing: float = SPACING) -> Track:
    """Return the two tracks of a section.

    Both ends are level: the random surface fades in and out over 12 m, so a vehicle at rest can start on it.

    Parameters
    ----------
    section : Section
        What to build.
    track : float
        Distance between the wheel tracks [m].
    seed : int
        Seed of the road loop.
    spacing : float
        Distance between points [m].
    """
    count = round(section.length / spacing) + 1
    distance = np.arange(count) * spacing
    left, right = np.zeros(count), np.zeros(count)
    own_seed = section_seed(seed, section.name)
    if section.density > 0.0:
        left, right = random_heights(
            density=section.density,
            length=section.length,
            spacing=spacing,
            track=track,
            seed=own_seed,
            waviness=section.waviness,
        )
        run_in = min(_RUN_IN, section.length / 4.0)
        share = np.clip(np.minimum(distance, section.length - distance) / run_in, 0.0, 1.0)
        fade = share**3 * (10.0 - 15.0 * share + 6.0 * share**2)
        left, right = left * fade, right * fade
    for feature in section.features:
        try:
            one, two = builder(feature.kind)(distance - feature.at, **feature.parameters)
        except TypeError as error:
            raise DomainError(f"section {section.name!r}: {feature.kind}: {error}") from None
        left, right = left + one, right + two
    return Track(spacing=spacing, left=left, right=right, seed=own_seed)
