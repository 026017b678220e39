"""Obstacles on a road: every kind is a shape over its own length, registered under the name a programme uses.

A builder takes the distance from the obstacle's start (array, [m]) and its parameters in SI and returns heights for
the left and the right track. `FEATURES` is the one list of them; the record holds the same names and a test compares.
"""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from typing import TypeAlias

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats

Heights: TypeAlias = tuple[Floats, Floats]
Builder: TypeAlias = Callable[..., Heights]

FEATURES: dict[str, Builder] = {}

#: Published humps: length and height [m]
PUBLISHED_HUMPS: dict[str, tuple[float, float, str]] = {
    "round_top_3700_100": (3.7, 0.100, "TRRL LR 597 (1973) and TRL 377: circular profile, 3.7 m by up to 100 mm"),
    "round_top_3700_75": (3.7, 0.075, "TRL 186, TAL 2/96: usual reduced height 75 mm"),
    "thump_900_37": (0.9, 0.037, "TRL PR 101: 37 mm by 900 mm, circular"),
}


def _feature(name: str) -> Callable[[Builder], Builder]:
    def add(builder: Builder) -> Builder:
        FEATURES[name] = builder
        return builder

    return add


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0.0):
            raise DomainError(f"road feature: {name} is {value:g} m; it must be positive")


def _sides(profile: Floats, side: str) -> Heights:
    nothing = np.zeros_like(profile)
    if side == "both":
        return profile, profile.copy()
    if side == "left":
        return profile, nothing
    if side == "right":
        return nothing, profile
    raise DomainError(f"road feature: side is {side!r}; it is left, right or both")


def arc(distance: Floats, *, length: float, height: float) -> Floats:
    """Return the heights of a circular arc of chord `length` and rise `height` [m], zero outside."""
    radius = (length**2 / 4.0 + height**2) / (2.0 * height)
    lever = np.clip(distance, 0.0, length) - length / 2.0
    return np.asarray(np.sqrt(radius**2 - lever**2) - (radius - height))


def raised_cosine(distance: Floats, *, length: float, height: float) -> Floats:
    """Return height/2 (1 - cos 2 pi x / length) inside [0, length], zero outside [m]."""
    inside = np.clip(distance, 0.0, length)
    return np.asarray(height / 2.0 * (1.0 - np.cos(2.0 * math.pi * inside / length)))


def parabola(distance: Floats, *, length: float, height: float) -> Floats:
    """Return 4 h x (L - x) / L^2 inside [0, L], zero outside [m]."""
    inside = np.clip(distance, 0.0, length)
    return np.asarray(4.0 * height * inside * (length - inside) / length**2)


def flat_top(distance: Floats, *, length: float, height: float, ramp: float) -> Floats:
    """Return a table: straight ramps of length `ramp` at both ends of `length` [m]."""
    if 2.0 * ramp > length:
        raise DomainError(f"hump: two ramps of {ramp:g} m do not fit into {length:g} m")
    up = np.clip(distance / ramp, 0.0, 1.0)
    down = np.clip((length - distance) / ramp, 0.0, 1.0)
    return np.asarray(height * np.minimum(up, down))


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
    _positive(length=length, height=height)
    if shape == "round_top":
        profile = arc(distance, length=length, height=height)
    elif shape == "sinusoidal":
        profile = raised_cosine(distance, length=length, height=height)
    elif shape == "parabolic":
        profile = parabola(distance, length=length, height=height)
    elif shape == "flat_top":
        profile = flat_top(distance, length=length, height=height, ramp=ramp or length / 6.0)
    else:
        raise DomainError(f"hump: shape is {shape!r}; known are round_top, sinusoidal, parabolic, flat_top")
    return _sides(profile, side)


@_feature("bump")
def bump(distance: Floats, *, length: float, height: float, side: str = "left") -> Heights:
    """Return a smooth bump (raised cosine) under one or both wheels."""
    _positive(length=length, height=height)
    return _sides(raised_cosine(distance, length=length, height=height), side)


@_feature("hole")
def hole(distance: Floats, *, length: float, depth: float, side: str = "left") -> Heights:
    """Return a pothole: steep smooth edges over a fifth of its length each, flat bottom."""
    _positive(length=length, depth=depth)
    edge = length / 5.0
    up = np.clip(distance / edge, 0.0, 1.0)
    down = np.clip((length - distance) / edge, 0.0, 1.0)
    share = np.minimum(up, down)
    return _sides(-depth * share**2 * (3.0 - 2.0 * share), side)


@_feature("step")
def step(distance: Floats, *, length: float, height: float, edge: float = 0.06, side: str = "both") -> Heights:
    """Return a kerb of rounded edge: up by `height`, along `length`, down again."""
    _positive(length=length, height=height, edge=edge)
    up = np.clip(distance / edge, 0.0, 1.0)
    down = np.clip((length - distance) / edge, 0.0, 1.0)
    share = np.minimum(up, down)
    return _sides(height * share**2 * (3.0 - 2.0 * share), side)


@_feature("dip")
def dip(distance: Floats, *, length: float, depth: float, side: str = "both") -> Heights:
    """Return a long hollow (raised cosine downwards)."""
    _positive(length=length, depth=depth)
    return _sides(-raised_cosine(distance, length=length, height=depth), side)


@_feature("corrugation")
def corrugation(
    distance: Floats,
    *,
    length: float,
    wavelength: float,
    depth: float,
    lag: float = 0.0,
    side: str = "both",
) -> Heights:
    """Return corrugations of `depth` from crest to trough that grow over the first fifth and fade over the last.

    Parameters
    ----------
    lag : float
        Distance by which the right track lags the left [m].
    """
    _positive(length=length, wavelength=wavelength, depth=depth)
    envelope = flat_top(distance, length=length, height=1.0, ramp=length / 5.0)
    left = 0.5 * depth * envelope * np.sin(2.0 * math.pi * distance / wavelength)
    right = 0.5 * depth * envelope * np.sin(2.0 * math.pi * (distance - lag) / wavelength)
    if side == "both":
        return left, right
    return _sides(left, side)


@_feature("grid")
def grid(distance: Floats, *, length: float, spacing: float, depth: float, side: str = "both") -> Heights:
    """Return the bars of a cattle grid: gaps of `depth` between bars `spacing` apart."""
    _positive(length=length, spacing=spacing, depth=depth)
    bars = round(length / spacing)
    if bars < 1:
        raise DomainError(f"cattle grid: bars {spacing:g} m apart do not fit into {length:g} m")
    inside = np.clip(distance, 0.0, bars * spacing)
    return _sides(-0.5 * depth * (1.0 - np.cos(2.0 * math.pi * inside / spacing)), side)


@_feature("mogul")
def mogul(distance: Floats, *, length: float, wavelength: float, height: float) -> Heights:
    """Return cross-axle hollows: crests of `height` under left and right wheel in turn."""
    _positive(length=length, wavelength=wavelength, height=height)
    envelope = flat_top(distance, length=length, height=1.0, ramp=min(wavelength / 2.0, length / 3.0))
    wave = 0.5 * height * np.sin(2.0 * math.pi * distance / wavelength) * envelope
    return wave, -wave


def parameters(kind: str) -> Mapping[str, inspect.Parameter]:
    """Return the parameters of a feature kind by name, without the distance; DomainError for an unknown kind."""
    return {k: p for k, p in inspect.signature(builder(kind)).parameters.items() if k != "distance"}


def builder(kind: str) -> Builder:
    """Return the builder of a feature kind; DomainError that names the nearest known kind."""
    try:
        return FEATURES[kind]
    except KeyError:
        near = get_close_matches(kind, FEATURES, 1)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        raise DomainError(f"road feature {kind!r} is unknown{hint} (known: {', '.join(FEATURES)})") from None
