"""Obstacles on a road: every kind is a builder, registered under the name a programme uses.

A builder takes the distance from the obstacle's start (array, [m]) and its parameters in SI and returns heights for
the left and the right track; one that needs the distance between the tracks takes `track` [m] too. `FEATURES` is the
one list of them and `PARAMETERS` the one vocabulary of what they take; the record holds the same names and a test
compares. A new kind is one function with the decorator.
"""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Literal, TypeAlias

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.roads.shapes import arc, flat_top, gully, incline, parabola, plateau, raised_cosine

Heights: TypeAlias = tuple[Floats, Floats]
Builder: TypeAlias = Callable[..., Heights]
Value: TypeAlias = float | int | str

FEATURES: dict[str, Builder] = {}

SIDES = ("left", "right", "both")
SHAPES = ("round_top", "sinusoidal", "parabolic", "flat_top")
WAYS = ("up", "down")
FALLS = ("left", "right")
STEEPEST = 0.3  # of a cross slope [-]; the contact of tyre and road stays nearly upright

#: What a parameter is, by its name, in every kind that has it
PARAMETERS: dict[str, tuple[Literal["length", "slope", "ratio", "choice", "whole"], str]] = {
    "length": ("length", "from its start to its end along the road"),
    "height": ("length", "greatest height above the road"),
    "depth": ("length", "greatest depth below the road; of corrugations and moguls from crest to trough"),
    "wavelength": ("length", "from crest to crest"),
    "spacing": ("length", "from bar to bar"),
    "ramp": ("length", "length of each ramp along the road; of a flat top 0: a sixth of the length"),
    "radius": ("length", "of the curves at foot and head of a ramp, in the vertical plane"),
    "entry": ("length", "over which a washout falls away"),
    "exit": ("length", "over which a washout climbs out"),
    "transition": ("length", "over which the cross slope comes and goes"),
    "slope": ("slope", "across the road, height over width"),
    "edge": ("length", "length over which an edge is rounded; 0: a fifth of the length"),
    "lag": ("length", "how far the right track meets it behind the left; negative: ahead"),
    "growth": ("length", "distance over which the depth grows from nothing; 0: a fifth of the length"),
    "irregularity": ("ratio", "random part of spacing and depth, 0 (regular) to 0.5"),
    "seed": ("whole", "of the irregularity; the section gives its own if there is none"),
    "shape": ("choice", "profile along the road"),
    "side": ("choice", "which wheels meet it"),
    "way": ("choice", "up to a level above the road, or down to one below"),
    "falls": ("choice", "side to which the road falls"),
}
_CHOICES = {"side": SIDES, "shape": SHAPES, "way": WAYS, "falls": FALLS}
_NOT_PARAMETERS = frozenset({"distance", "track"})
_MAY_BE_ZERO = frozenset({"ramp", "edge", "lag", "growth", "irregularity", "seed"})


@dataclass(frozen=True, kw_only=True, slots=True)
class FeatureParameter:
    """One parameter of a feature kind.

    Attributes
    ----------
    name : str
        As a programme writes it.
    dimension : str
        "length" [m], "slope" or "ratio" [-], "choice" (one of `choices`) or "whole" (a whole number).
    meaning : str
        In words.
    default : float, int, str or None
        None for one that must be given.
    choices : tuple of str
        Of a choice.
    """

    name: str
    dimension: Literal["length", "slope", "ratio", "choice", "whole"]
    meaning: str
    default: Value | None
    choices: tuple[str, ...] = ()

    @property
    def required(self) -> bool:
        """Whether it must be given."""
        return self.default is None


def _feature(name: str) -> Callable[[Builder], Builder]:
    def add(builder: Builder) -> Builder:
        FEATURES[name] = builder
        return builder

    return add


def _sides(profile: Floats, side: str) -> Heights:
    nothing = np.zeros_like(profile)
    return (profile.copy() if side != "right" else nothing, profile.copy() if side != "left" else nothing)


def _pick(left: Floats, right: Floats, side: str) -> Heights:
    return (left if side != "right" else np.zeros_like(left), right if side != "left" else np.zeros_like(right))


def _met_at(distance: Floats, *, length: float, lag: float, kind: str, side: str) -> tuple[float, Floats, Floats]:
    """Return the length in one track, and each track's distance from its own start, of what lies across at an angle."""
    if side != "both" and lag != 0.0:
        raise DomainError(f"{kind}: only one that lies under both wheels can lag; it is {lag:g} m with side {side}")
    if abs(lag) >= length:
        raise DomainError(f"{kind}: a lag of {lag:g} m leaves nothing of {length:g} m")
    return length - abs(lag), distance - max(-lag, 0.0), distance - max(lag, 0.0)


@_feature("hump")
def hump(
    distance: Floats,
    *,
    length: float,
    height: float,
    shape: str = "round_top",
    ramp: float = 0.0,
    side: str = "both",
) -> Heights:
    """Return a traffic hump: `shape` is round_top (arc), sinusoidal, parabolic or flat_top (with `ramp`)."""
    if shape == "round_top":
        profile = arc(distance, length=length, height=height)
    elif shape == "sinusoidal":
        profile = raised_cosine(distance, length=length, height=height)
    elif shape == "parabolic":
        profile = parabola(distance, length=length, height=height)
    else:
        profile = flat_top(distance, length=length, height=height, ramp=ramp or length / 6.0)
    return _sides(profile, side)


@_feature("bump")
def bump(distance: Floats, *, length: float, height: float, side: str = "left") -> Heights:
    """Return a smooth bump (raised cosine) under one or both wheels."""
    return _sides(raised_cosine(distance, length=length, height=height), side)


@_feature("hole")
def hole(distance: Floats, *, length: float, depth: float, edge: float = 0.0, side: str = "left") -> Heights:
    """Return a pothole: steep smooth edges, flat bottom."""
    return _sides(plateau(distance, length=length, height=-depth, edge=edge or length / 5.0), side)


@_feature("step")
def step(
    distance: Floats, *, length: float, height: float, edge: float = 0.06, lag: float = 0.0, side: str = "both"
) -> Heights:
    """Return a kerb of rounded edge: up by `height`, along, down again; met at an angle if the right track lags."""
    one, left, right = _met_at(distance, length=length, lag=lag, kind="kerb", side=side)

    def track(x: Floats) -> Floats:
        return plateau(x, length=one, height=height, edge=edge or one / 5.0)

    return _pick(track(left), track(right), side)


@_feature("washout")
def washout(
    distance: Floats,
    *,
    length: float,
    depth: float,
    entry: float,
    exit: float,
    lag: float = 0.0,
    side: str = "both",
) -> Heights:
    """Return a washout of gravel: falls away over `entry`, runs at `depth`, climbs out over `exit`.

    One-sided where the edge of the road has gone, or across; then water seldom crosses at right angles and the right
    track meets it `lag` after the left. Both tracks lie inside `length`.
    """
    one, left, right = _met_at(distance, length=length, lag=lag, kind="washout", side=side)

    def track(x: Floats) -> Floats:
        return gully(x, length=one, depth=depth, entry=entry, exit=exit)

    return _pick(track(left), track(right), side)


@_feature("ramp")
def ramp(
    distance: Floats, *, length: float, height: float, ramp: float, radius: float, way: str = "up", side: str = "both"
) -> Heights:
    """Return a ramp to a level `height` above (or below) the road and one back, curves of `radius` at foot and head."""
    profile = np.asarray(incline(distance, height=height, run=ramp, radius=radius))
    back = np.asarray(incline(length - distance, height=height, run=ramp, radius=radius))
    if 2.0 * ramp > length * (1.0 + 1e-12):
        raise DomainError(f"ramp: two ramps of {ramp:g} m do not fit into {length:g} m")
    return _sides(np.minimum(profile, back) * (1.0 if way == "up" else -1.0), side)


@_feature("camber")
def camber(
    distance: Floats, *, track: float, length: float, slope: float, transition: float, falls: str = "left"
) -> Heights:
    """Return a stretch whose cross slope comes and goes over `transition`; it turns about the middle of the road."""
    half = plateau(distance, length=length, height=0.5 * track * slope, edge=transition)
    return (-half, half) if falls == "left" else (half, -half)


@_feature("dip")
def dip(distance: Floats, *, length: float, depth: float, side: str = "both") -> Heights:
    """Return a long hollow (raised cosine downwards)."""
    return _sides(-raised_cosine(distance, length=length, height=depth), side)


@_feature("corrugation")
def corrugation(
    distance: Floats,
    *,
    length: float,
    wavelength: float,
    depth: float,
    lag: float = 0.0,
    growth: float = 0.0,
    irregularity: float = 0.0,
    seed: int = 0,
    side: str = "both",
) -> Heights:
    """Return corrugations of `depth` from crest to trough that grow from nothing and fade over the last fifth.

    Parameters
    ----------
    distance : array (n,)
        From the obstacle's start [m].
    length, wavelength, depth : float
        Of the corrugated stretch, from crest to crest, and from crest to trough [m].
    lag : float
        Distance by which the right track lags the left [m].
    growth : float
        Distance over which the depth grows [m]; 0 for a fifth of the length.
    irregularity : float
        R.m.s. of the random part of phase (in wavelengths) and of depth (in depths) [-]. It wanders over 3 to 12
        wavelengths, equally in both tracks. Our choice: no published spectrum of it was found.
    seed : int
        Of that random part.
    side : str
        left, right or both.
    """
    if growth > 0.8 * length:
        raise DomainError(f"corrugation: growth over {growth:g} m leaves no room to fade in {length:g} m")
    rise = growth or length / 5.0
    rng = np.random.Generator(np.random.PCG64(seed))
    waves = rng.uniform(3.0, 12.0, (2, 6)) * wavelength
    phases = rng.uniform(0.0, 2.0 * math.pi, (2, 6))

    def wander(x: Floats, which: int) -> Floats:
        # six waves of equal size: r.m.s. 1 in all
        angle = 2.0 * math.pi * x[:, None] / waves[which] + phases[which]
        return np.asarray(np.sum(np.cos(angle), axis=1) / math.sqrt(3.0))

    def track(x: Floats) -> Floats:
        envelope = np.minimum(
            np.clip(distance / rise, 0.0, 1.0), np.clip((length - distance) / (length / 5.0), 0.0, 1.0)
        )
        turns, size = x / wavelength, np.ones_like(x)
        if irregularity > 0.0:
            turns = turns + irregularity * wander(x, 0)
            size = np.maximum(1.0 + irregularity * wander(x, 1), 0.0)
        return np.asarray(0.5 * depth * size * envelope * np.sin(2.0 * math.pi * turns))

    if side == "both":
        return track(distance), track(distance - lag)
    return _sides(track(distance), side)


@_feature("grid")
def grid(distance: Floats, *, length: float, spacing: float, depth: float, side: str = "both") -> Heights:
    """Return the bars of a cattle grid: gaps of `depth` between bars `spacing` apart."""
    bars = math.floor(length / spacing + 1e-9)
    if bars < 1:
        raise DomainError(f"cattle grid: bars {spacing:g} m apart do not fit into {length:g} m")
    inside = np.clip(distance, 0.0, bars * spacing)
    return _sides(-0.5 * depth * (1.0 - np.cos(2.0 * math.pi * inside / spacing)), side)


@_feature("mogul")
def mogul(distance: Floats, *, length: float, wavelength: float, height: float) -> Heights:
    """Return cross-axle hollows: crests under left and right wheel in turn, `height` from crest to trough."""
    envelope = flat_top(distance, length=length, height=1.0, ramp=min(wavelength / 2.0, length / 3.0))
    wave = 0.5 * height * np.sin(2.0 * math.pi * distance / wavelength) * envelope
    return wave, -wave


def parameters(kind: str) -> Mapping[str, FeatureParameter]:
    """Return the parameters of a feature kind by name; DomainError for an unknown kind.

    >>> parameters("dip")["side"].choices
    ('left', 'right', 'both')
    """
    found: dict[str, FeatureParameter] = {}
    for name, parameter in inspect.signature(builder(kind)).parameters.items():
        if name in _NOT_PARAMETERS:
            continue
        dimension, meaning = PARAMETERS[name]
        default = None if parameter.default is inspect.Parameter.empty else parameter.default
        found[name] = FeatureParameter(
            name=name, dimension=dimension, meaning=meaning, default=default, choices=_CHOICES.get(name, ())
        )
    return found


def builder(kind: str) -> Builder:
    """Return the builder of a feature kind; DomainError that names the nearest known kind."""
    try:
        return FEATURES[kind]
    except KeyError:
        raise DomainError(f"road feature {kind!r} is unknown{_nearest(kind, FEATURES)}") from None


def takes_track(kind: str) -> bool:
    """Return whether a kind's builder needs the distance between the tracks."""
    return "track" in inspect.signature(builder(kind)).parameters


def check(kind: str, values: Mapping[str, Value]) -> None:
    """Refuse parameters that a feature kind does not take.

    Raises
    ------
    DomainError
        For an unknown kind or parameter (with the nearest known name), a missing one, text in place of a number, a
        number that is negative, zero where it may not be, or not finite, or an unknown choice.
    """
    known = parameters(kind)
    for name, value in values.items():
        if name not in known:
            raise DomainError(f"{kind}: parameter {name!r} is unknown{_nearest(name, known)}")
        rule = known[name]
        if rule.dimension == "choice":
            if value not in rule.choices:
                raise DomainError(f"{kind}: {name} is {value!r}; it is one of {', '.join(rule.choices)}")
            continue
        if isinstance(value, str | bool) or not isinstance(value, float | int | np.floating | np.integer):
            raise DomainError(f"{kind}: {name} is {value!r}; it must be a number")
        if rule.dimension == "whole" and value != int(value):
            raise DomainError(f"{kind}: {name} is {value!r}; it must be a whole number")
        least = "not be negative" if name in _MAY_BE_ZERO else "be positive"
        if name == "lag" and math.isfinite(value):  # negative: the right track leads
            continue
        if not math.isfinite(value) or value < 0.0 or (value == 0.0 and name not in _MAY_BE_ZERO):
            unit = " m" if rule.dimension == "length" else ""
            raise DomainError(f"{kind}: {name} is {value:g}{unit}; it must be finite and {least}")
        if name == "slope" and value > STEEPEST:
            raise DomainError(f"{kind}: slope is {value:g}; a road falls by at most {STEEPEST:g} of its width")
        if name == "irregularity" and value > 0.5:
            raise DomainError(f"{kind}: irregularity is {value:g}; at most 0.5 keeps the waves apart")
    for name, rule in known.items():
        if rule.required and name not in values:
            raise DomainError(f"{kind}: {name} is missing ({rule.meaning})")


def _nearest(word: str, known: Mapping[str, object]) -> str:
    near = get_close_matches(word, known, 1)
    hint = f"; did you mean {near[0]!r}?" if near else ""
    return f"{hint} (known: {', '.join(known)})"
