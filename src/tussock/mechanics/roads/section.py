"""A section of a road loop: a random or measured surface and the obstacles on it, and the speed driven."""

from __future__ import annotations

import math
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.roads.features import Value, builder, check, parameters, takes_track
from tussock.mechanics.roads.measured import Stretch
from tussock.mechanics.roads.pace import Pace, SpeedChange, pace
from tussock.mechanics.roads.random_road import CLASS_MEAN, random_heights
from tussock.mechanics.roads.track import Track

SPACING = 0.02  # default distance between points [m]
_RUN_IN = 12.0  # stretch at either end over which the random surface fades in and out [m]
_LONGEST = 50_000.0  # [m]


@dataclass(frozen=True, kw_only=True)
class Feature:
    """One obstacle: its kind, where it starts [m] and its parameters in SI."""

    kind: str
    at: float
    parameters: Mapping[str, Value] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse a kind, place or parameter that cannot be built."""
        check(self.kind, self.parameters)
        if not (math.isfinite(self.at) and self.at >= 0.0):
            raise DomainError(f"{self.kind} at {self.at:g} m: an obstacle starts at 0 m or later")

    @property
    def end(self) -> float:
        """Where it ends [m]."""
        return self.at + float(self.parameters["length"])


@dataclass(frozen=True, kw_only=True)
class Section:
    """One section of a road loop.

    Attributes
    ----------
    name : str
        What the drivers call it.
    length : float
        [m], 1 m to 50 km.
    speed : float
        [m/s], above 0; at the start if it changes.
    density : float
        Displacement spectral density at 0.1 cycle/m of the random surface [m^3]; 0 for a smooth one.
    waviness : float
        Exponent of its spectrum [-], above 1.
    measured : Stretch, optional
        A measured surface in place of the random one.
    features : tuple of Feature
        Obstacles; they add up where they overlap.
    speed_changes : tuple of SpeedChange
        In the order driven; none for one speed throughout.
    acceleration : float
        Of every change of speed [m/s^2].

    Raises
    ------
    DomainError
        For a section that cannot be built, with the number that is wrong.
    """

    name: str
    length: float
    speed: float
    density: float = 0.0
    waviness: float = 2.0
    measured: Stretch | None = None
    features: tuple[Feature, ...] = ()
    speed_changes: tuple[SpeedChange, ...] = ()
    acceleration: float = 1.5

    def __post_init__(self) -> None:
        """Refuse a section that cannot be driven."""
        if not 1.0 <= self.length <= _LONGEST:
            raise DomainError(f"section {self.name!r}: {self.length:g} m long; from 1 m to {_LONGEST:g} m can be built")
        if not (math.isfinite(self.speed) and self.speed > 0.0):
            raise DomainError(f"section {self.name!r}: speed is {self.speed:g} m/s; it must be above 0")
        if not (math.isfinite(self.density) and self.density >= 0.0):
            raise DomainError(
                f"section {self.name!r}: spectral density is {self.density:g} m^3; it must be 0 or positive"
            )
        if not 1.0 < self.waviness <= 4.0:
            raise DomainError(f"section {self.name!r}: waviness is {self.waviness:g}; it lies above 1, up to 4")
        if self.measured is not None:
            if self.density > 0.0:
                raise DomainError(f"section {self.name!r}: a measured surface takes the place of a random one")
            try:
                self.measured.check(self.length)
            except DomainError as error:
                raise DomainError(f"section {self.name!r}: {error}") from None
        try:
            _ = self.pace
        except DomainError as error:
            raise DomainError(f"section {self.name!r}: {error}") from None
        for f in self.features:
            if f.end > self.length + 1e-9:
                raise DomainError(
                    f"section {self.name!r}: {f.kind} from {f.at:g} to {f.end:g} m does not fit into {self.length:g} m"
                )

    @property
    def pace(self) -> Pace:
        """Speed over time along it."""
        return pace(length=self.length, speed=self.speed, changes=self.speed_changes, acceleration=self.acceleration)

    @property
    def mean_speed(self) -> float:
        """Over the time that it takes [m/s]."""
        return self.length / self.pace.duration if self.speed_changes else self.speed

    def driven_speed(self, step: float) -> float | Floats:
        """Return the speed held, or the speed in the middle of each time step (n,) [m/s]."""
        return self.pace.at_half_steps(step) if self.speed_changes else self.speed

    @classmethod
    def of_class(
        cls,
        road_class: str,
        *,
        name: str,
        length: float,
        speed: float,
        waviness: float = 2.0,
        features: tuple[Feature, ...] = (),
    ) -> Section:
        """Return a section whose random surface is the geometric mean of an ISO 8608 class, A to H."""
        if road_class not in CLASS_MEAN:
            raise DomainError(f"ISO 8608 has no class {road_class!r}; the classes are {', '.join(CLASS_MEAN)}")
        return cls(
            name=name,
            length=length,
            speed=speed,
            density=CLASS_MEAN[road_class],
            waviness=waviness,
            features=features,
        )


def section_seed(seed: int, name: str) -> int:
    """Return the seed of a section: the loop's seed and the section's name, so that order does not matter."""
    return (seed * 1_000_003 + zlib.crc32(name.encode())) % (1 << 63)


def build(section: Section, *, track: float, seed: int, spacing: float = SPACING) -> Track:
    """Return the two tracks of a section.

    Both ends are level and at height 0, so a vehicle at rest can start on it: each track of the random surface has
    the straight line between its ends taken off (a road's height datum and mean gradient are not roughness) and
    fades in and out over 12 m, or a quarter of a short section. Of a measured surface the line between the ends of
    the road's middle is taken off both tracks, so that long waves and the cross slope stay.

    Parameters
    ----------
    section : Section
        What to build.
    track : float
        Distance between the wheel tracks [m].
    seed : int
        Seed of the road loop, not negative.
    spacing : float
        Distance between points [m]. The same road comes out at every spacing that divides 1 m.

    Returns
    -------
    Track
        With the section's own seed.

    Raises
    ------
    DomainError
        For a track width or spacing that cannot be, or an obstacle too fine for the spacing.

    Examples
    --------
    >>> moor = Section.of_class("C", name="moor road", length=200.0, speed=22.0)
    >>> road = build(moor, track=1.5, seed=7)
    >>> road.left.size, float(road.left[0])
    (10001, 0.0)
    """
    if not (math.isfinite(spacing) and 0.0 < spacing <= 0.25):
        raise DomainError(f"section {section.name!r}: points {spacing:g} m apart; above 0 and up to 0.25 m is right")
    if not (math.isfinite(track) and 0.0 <= track <= 5.0):
        raise DomainError(f"section {section.name!r}: wheel track is {track:g} m; 0 to 5 m is right")
    if seed < 0:
        raise DomainError(f"section {section.name!r}: seed is {seed}; it must not be negative")
    count = round(section.length / spacing) + 1
    distance = np.asarray(np.arange(count) * spacing, dtype=np.float64)
    own_seed = section_seed(seed, section.name)
    left, right = np.zeros(count), np.zeros(count)
    if section.density > 0.0:
        both = random_heights(
            density=section.density,
            length=section.length,
            spacing=spacing,
            track=track,
            seed=own_seed,
            waviness=section.waviness,
        )
        left, right = (_faded(heights - _line(heights, distance), distance) for heights in both)
    elif section.measured is not None:
        try:
            both = section.measured.tracks(distance, track=track)
        except DomainError as error:
            raise DomainError(f"section {section.name!r}: {error}") from None
        line = _line(0.5 * (both[0] + both[1]), distance)
        left, right = (_faded(heights - line, distance) for heights in both)
    for number, feature in enumerate(section.features):
        values = dict(feature.parameters)
        known = parameters(feature.kind)
        for name in ("length", "wavelength", "spacing"):
            if name in values and float(values[name]) < 4.0 * spacing:
                raise DomainError(
                    f"section {section.name!r}: {feature.kind} with {name} {float(values[name]):g} m is too fine for "
                    f"points {spacing:g} m apart; {float(values[name]) / 4.0:g} m or less is needed"
                )
        if "seed" in known:
            values.setdefault("seed", section_seed(own_seed, f"{feature.kind} {number}"))
        if takes_track(feature.kind):
            values["track"] = track
        one, two = builder(feature.kind)(distance - feature.at, **values)
        left, right = left + one, right + two
    return Track(spacing=spacing, left=left, right=right, seed=own_seed)


def _line(heights: Floats, distance: Floats) -> Floats:
    """Return the straight line between the ends of a profile."""
    return np.asarray(heights[0] + (heights[-1] - heights[0]) * distance / float(distance[-1]))


def _faded(heights: Floats, distance: Floats) -> Floats:
    """Return a profile that comes and goes smoothly at both ends."""
    length = float(distance[-1])
    share = np.clip(np.minimum(distance, length - distance) / min(_RUN_IN, length / 4.0), 0.0, 1.0)
    return np.asarray(heights * share**3 * (10.0 - 15.0 * share + 6.0 * share**2))
