"""Adjusters: what may be changed on a vehicle without opening its programme, as data for one mechanism.

An adjuster names a part and where it sits; its part says how a value changes the numbers of the vehicle. A value that
is neutral changes nothing, to the last bit. Tuning, sweeps and sensitivity share them.
"""

from __future__ import annotations

import dataclasses
import difflib
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

import numpy as np
from scipy.optimize import brentq

from tussock.errors import DomainError, InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers import BANDS, Direction, ForceCurve
from tussock.mechanics.mass import MassState
from tussock.mechanics.motion import AxleParts, Vehicle
from tussock.studies import model, parts
from tussock.studies.display import show
from tussock.studies.job import ENDS, Job, Setup

Of: TypeAlias = Literal["kit", "vehicle"]


@dataclass(frozen=True, kw_only=True)
class Part:
    """A kind of part that adjusters change.

    Attributes
    ----------
    kind : str
        Display kind of a value: "ratio" over what is fitted, or an amount added to it.
    least, most : float
        Values between which the part can be built or is what it is called, in SI.
    of : str
        "kit" for what a build may choose, "vehicle" for what is only known so well.
    """

    kind: str
    least: float
    most: float
    of: Of = "kit"

    @property
    def neutral(self) -> float:
        """Value that changes nothing."""
        return 1.0 if self.kind == "ratio" else 0.0


PARTS: Mapping[str, Part] = {
    "damping": Part(kind="ratio", least=0.2, most=5.0),
    "spring": Part(kind="ratio", least=0.4, most=3.0),
    "packer": Part(kind="length", least=-0.06, most=0.06),
    "bar": Part(kind="ratio", least=0.0, most=5.0),
    "added_bar": Part(kind="roll_rate", least=0.0, most=2e5),
    "stop_height": Part(kind="length", least=-0.04, most=0.06),
    "stop_force": Part(kind="ratio", least=0.2, most=5.0),
    "tyre_pressure": Part(kind="ratio", least=0.5, most=1.6),
    "seal_friction": Part(kind="ratio", least=0.0, most=10.0, of="vehicle"),
    "bush_rate": Part(kind="ratio", least=0.3, most=3.0, of="vehicle"),
    "unsprung_mass": Part(kind="ratio", least=0.5, most=2.0, of="vehicle"),
    "tyre_stiffness": Part(kind="ratio", least=0.5, most=2.0, of="vehicle"),
    "tyre_damping": Part(kind="ratio", least=0.0, most=5.0, of="vehicle"),
    "cornering_stiffness": Part(kind="ratio", least=0.3, most=3.0, of="vehicle"),
    "body_mass": Part(kind="ratio", least=0.5, most=2.0, of="vehicle"),
    "centre_height": Part(kind="length", least=-0.2, most=0.2, of="vehicle"),
    "roll_inertia": Part(kind="ratio", least=0.5, most=2.0, of="vehicle"),
    "pitch_inertia": Part(kind="ratio", least=0.5, most=2.0, of="vehicle"),
    "yaw_inertia": Part(kind="ratio", least=0.5, most=2.0, of="vehicle"),
}


@dataclass(frozen=True, kw_only=True)
class Adjuster:
    """Something that can be changed by a number.

    Attributes
    ----------
    key, title : str
        For programs, and in words.
    part : str
        Of `PARTS`.
    ends : tuple of str
        "front", "rear" or both; none for what belongs to the body.
    directions, bands : tuple of str
        Of damping: where the force is changed.
    """

    key: str
    title: str
    part: str
    ends: tuple[str, ...] = ()
    directions: tuple[Direction, ...] = ()
    bands: tuple[str, ...] = ()

    @property
    def rule(self) -> Part:
        """What its part says."""
        return PARTS[self.part]

    @property
    def neutral(self) -> float:
        """Value that changes nothing."""
        return self.rule.neutral

    def words(self, value: float) -> str:
        """Return a value as people say it: "+15 %" of what is fitted, "+8 mm"."""
        if self.rule.kind == "ratio":
            return show(value - 1.0, "share", digits=0, sign=True)
        return show(value, self.rule.kind, sign=True)


_SPEEDS = {"low": "low speed", "mid": "middle speed", "high": "high speed"}


def _damping(end: str) -> tuple[Adjuster, ...]:
    both: tuple[Direction, ...] = ("rebound", "compression")
    whole = [Adjuster(key=f"{end}_damping", title=f"{end} damping", part="damping", ends=(end,), directions=both,
                      bands=tuple(BANDS))]  # fmt: skip
    for direction in both:
        key, title = f"{end}_{direction}", f"{end} {direction}"
        one = Adjuster(key=key, title=title, part="damping", ends=(end,), directions=(direction,), bands=tuple(BANDS))
        whole.append(one)
        whole += [
            dataclasses.replace(one, key=f"{key}_{band}", title=f"{title}, {_SPEEDS[band]}", bands=(band,))
            for band in BANDS
        ]
    return tuple(whole)


def _at(end: str) -> tuple[Adjuster, ...]:
    named = {
        "spring": "spring rate",
        "packer": "packer",
        "bar": "anti-roll bar",
        "added_bar": "anti-roll bar added",
        "stop_height": "bump stop height",
        "stop_force": "bump stop force",
        "tyre_pressure": "tyre pressure",
        "seal_friction": "damper friction",
        "bush_rate": "bush rates",
        "unsprung_mass": "unsprung mass",
    }
    return tuple(Adjuster(key=f"{end}_{p}", title=f"{end} {words}", part=p, ends=(end,)) for p, words in named.items())


_BODY = {
    "body_mass": "sprung mass",
    "centre_height": "height of the sprung centre of mass",
    "roll_inertia": "roll inertia of the body",
    "pitch_inertia": "pitch inertia of the body",
    "yaw_inertia": "yaw inertia of the body",
}
_TYRE = {
    "tyre_stiffness": "tyre stiffness",
    "tyre_damping": "tyre damping",
    "cornering_stiffness": "cornering stiffness",
}

#: Every adjuster by its key.
ADJUSTERS: Mapping[str, Adjuster] = {
    a.key: a
    for a in (
        *_damping("front"),
        *_damping("rear"),
        *_at("front"),
        *_at("rear"),
        *(Adjuster(key=p, title=words, part=p, ends=ENDS) for p, words in _TYRE.items()),
        *(Adjuster(key=p, title=words, part=p) for p, words in _BODY.items()),
    )
}


def adjuster(key: str) -> Adjuster:
    """Return an adjuster by its key; InputError that names the nearest ones."""
    if key in ADJUSTERS:
        return ADJUSTERS[key]
    near = difflib.get_close_matches(key, ADJUSTERS, n=4, cutoff=0.4) or sorted(ADJUSTERS)
    raise InputError(f"there is no adjuster {key!r}; near it are {', '.join(near)} (docs/sweeps.md lists all)")


@dataclass(frozen=True, kw_only=True)
class EndFittings:
    """What one axle wears, as adjusters need it: force curve, spring, and the spring's length where it stands [m]."""

    curve: ForceCurve
    spring: parts.Spring
    stands: float


@dataclass(frozen=True, kw_only=True)
class Fittings:
    """A vehicle and what it wears, without its programme: it may be sent to another process."""

    vehicle: Vehicle
    ends: Mapping[str, EndFittings] = field(default_factory=dict)


def fittings(job: Job, setup: Setup) -> Fittings:
    """Return a setup's vehicle with what its adjusters change."""
    rest = model.rest(job, setup)
    ends: dict[str, EndFittings] = {}
    for a, end in enumerate(ENDS):
        fitted = parts.fitted(job, setup, end)
        stands = float(np.mean(rest.spring_length[2 * a : 2 * a + 2]))
        ends[end] = EndFittings(curve=fitted.curve, spring=fitted.spring, stands=stands)
    return Fittings(vehicle=model.vehicle(job, setup), ends=ends)


def check_range(key: str, low: float, high: float) -> None:
    """Refuse a range that does not rise or goes beyond what the part can be."""
    this = adjuster(key)
    rule = this.rule
    if not (math.isfinite(low) and math.isfinite(high) and low < high):
        raise InputError(f"{key}: the range from {_plain(low, rule)} to {_plain(high, rule)} does not rise")
    if low < rule.least or high > rule.most:
        why = "negative stiffness or force drives the wheel; " if rule.kind == "ratio" and low < 0.0 else ""
        raise InputError(
            f"{key}: from {_plain(low, rule)} to {_plain(high, rule)} is beyond what it can be; {why}"
            f"{_plain(rule.least, rule)} to {_plain(rule.most, rule)} is right"
        )


def _plain(value: float, rule: Part) -> str:
    return f"{value:g}" if rule.kind == "ratio" else show(value, rule.kind)


def adjusted(fitted: Fittings, values: Mapping[str, float]) -> Vehicle:
    """Return the vehicle with adjusters set.

    Parameters
    ----------
    fitted : Fittings
        What is changed.
    values : mapping
        By key of `ADJUSTERS`, in SI or over what is fitted; several that act on one part act together.

    Raises
    ------
    InputError
        For an unknown adjuster, or one whose part this vehicle does not have.
    """
    vehicle = fitted.vehicle
    factors: dict[str, dict[tuple[Direction, str], float]] = {}
    for key, value in values.items():
        this = adjuster(key)
        if value == this.neutral:
            continue
        if this.part == "damping":
            for place in ((e, d, b) for e in this.ends for d in this.directions for b in this.bands):
                scale = factors.setdefault(place[0], {})
                scale[place[1:]] = scale.get(place[1:], 1.0) * value
        elif this.part in _BODY_WAYS:
            vehicle = dataclasses.replace(vehicle, body=_BODY_WAYS[this.part](vehicle.body, value))
        else:
            for end in this.ends:
                axle = vehicle.axles[ENDS.index(end)]
                try:
                    axle = _AXLE_WAYS[this.part](axle, fitted.ends[end], value)
                except DomainError as error:
                    raise InputError(f"{key}: {error}") from None
                vehicle = _with_axle(vehicle, end, axle)
    for end, scale in factors.items():
        axle = vehicle.axles[ENDS.index(end)]
        velocity, force = fitted.ends[end].curve.scaled(scale).table()
        damper = dataclasses.replace(axle.damper, velocity=velocity, force=force)
        vehicle = _with_axle(vehicle, end, dataclasses.replace(axle, damper=damper))
    return vehicle


def _with_axle(vehicle: Vehicle, end: str, axle: AxleParts) -> Vehicle:
    return dataclasses.replace(vehicle, front=axle) if end == "front" else dataclasses.replace(vehicle, rear=axle)


@dataclass(frozen=True)
class _Further:
    """Force beyond the linear rate of a spring that was changed: what the old one had, and what the new one differs."""

    before: Callable[[Floats], Floats] | None
    change: Callable[[Floats], Floats]

    def __call__(self, lengths: Floats) -> Floats:
        base = 0.0 if self.before is None else self.before(lengths)
        return np.asarray(base + self.change(lengths))


@dataclass(frozen=True)
class _OtherStages:
    """What a progressive spring of another rate has beyond its own linear rate, over the old one's."""

    old: parts.Spring
    new: parts.Spring

    def __call__(self, lengths: Floats) -> Floats:
        seats = self.old.seats
        return self.new.further_force(lengths - seats) - self.old.further_force(lengths - seats)


@dataclass(frozen=True)
class _OtherLeaf:
    """A leaf pack of another rate at the same height: the present one's force over rest, again, by a share.

    The leaves locate the axle as before: only the rate is felt.
    """

    leaf: parts.Spring
    stands: float
    share: float

    def __call__(self, lengths: Floats) -> Floats:
        own, here = (self.leaf.further_force(np.asarray(at) - self.leaf.seats) for at in (lengths, self.stands))
        return np.asarray(self.share * (self.leaf.rate * (self.stands - lengths) + own - here))


def _spring(axle: AxleParts, fitted: EndFittings, factor: float) -> AxleParts:
    """Return an axle with a spring of another rate that carries the same load at the same length."""
    old = fitted.spring
    if old.law.kind == "leaf":
        extra = _OtherLeaf(old, fitted.stands, factor - 1.0)
        return dataclasses.replace(axle, further_force=_Further(axle.further_force, extra))
    between = fitted.stands - old.seats
    load, rate = float(old.force(between)), factor * old.rate
    if load <= 0.0:
        raise DomainError("the spring is loose where the vehicle stands, so no rate keeps the height")
    longer = load / rate - (old.free_length + old.packer - between)
    if old.law.stages is not None:

        def miss(more: float) -> float:
            return float(old.at_rate(rate, old.free_length + more).force(between)) - load

        least = between - old.free_length - old.packer
        longer = float(brentq(miss, least, max(2.0 * abs(longer), 0.2), xtol=1e-12))
    new = old.at_rate(rate, old.free_length + longer)
    length = new.free_length + new.packer + new.seats
    changed = dataclasses.replace(axle, spring_rate=(rate, rate), spring_length=(length, length))
    if old.law.stages is None:
        return changed
    return dataclasses.replace(changed, further_force=_Further(axle.further_force, _OtherStages(old, new)))


def _packer(axle: AxleParts, fitted: EndFittings, height: float) -> AxleParts:
    if fitted.spring.law.kind != "coil":
        raise DomainError("a packer fits a coil spring alone; leaves take a block, a torsion bar its adjuster")
    left, right = axle.spring_length
    changed = dataclasses.replace(axle, spring_length=(left + height, right + height))
    if fitted.spring.law.stages is None:
        return changed
    old = fitted.spring
    other = _OtherStages(old, dataclasses.replace(old, packer=old.packer + height))
    return dataclasses.replace(changed, further_force=_Further(axle.further_force, other))


def _bar(axle: AxleParts, fitted: EndFittings, factor: float) -> AxleParts:
    if axle.bar_rate == 0.0:
        raise DomainError("there is no anti-roll bar to change; the adjuster ..._added_bar fits one")
    return dataclasses.replace(axle, bar_rate=factor * axle.bar_rate)


def _stop_height(axle: AxleParts, fitted: EndFittings, more: float) -> AxleParts:
    if axle.stop_height + more <= float(axle.stop_compression[-1]):
        raise DomainError(
            f"a bump stop {show(axle.stop_height + more, 'length')} high is shorter than its curve is long"
        )
    return dataclasses.replace(axle, stop_height=axle.stop_height + more)


_GIVES = 1e-15  # below is rounding of the linkage's solution [rad/N, m/N]


def _bushes(axle: AxleParts, fitted: EndFittings, factor: float) -> AxleParts:
    """Return an axle whose bushes are all firmer: it gives less under forces at the ground.

    Their part in the wheel rate stays: it is in the energy of the axle's map, and small.
    """
    give = axle.give
    if max(map(abs, (*give.steer, give.inclination, *give.brake_steer, give.shift))) < _GIVES:
        raise DomainError("the programme gives this axle no bushes")
    changed = dataclasses.replace(
        give,
        steer=(give.steer[0] / factor, give.steer[1] / factor),
        inclination=give.inclination / factor,
        brake_steer=(give.brake_steer[0] / factor, give.brake_steer[1] / factor),
        shift=give.shift / factor,
    )
    return dataclasses.replace(axle, give=changed)


def _unsprung(axle: AxleParts, fitted: EndFittings, factor: float) -> AxleParts:
    mass = dataclasses.replace(axle.mass, mass=factor * axle.mass.mass, inertia=_times(axle.mass.inertia, factor))
    return dataclasses.replace(axle, mass=mass)


def _times(three: tuple[float, float, float], factor: float) -> tuple[float, float, float]:
    return (factor * three[0], factor * three[1], factor * three[2])


_AXLE_WAYS: Mapping[str, Callable[[AxleParts, EndFittings, float], AxleParts]] = {
    "spring": _spring,
    "packer": _packer,
    "bar": _bar,
    "added_bar": lambda a, f, v: dataclasses.replace(a, bar_rate=a.bar_rate + v),
    "stop_height": _stop_height,
    "stop_force": lambda a, f, v: dataclasses.replace(a, stop_force=v * a.stop_force),
    "seal_friction": lambda a, f, v: dataclasses.replace(
        a, damper=dataclasses.replace(a.damper, friction=v * a.damper.friction)
    ),
    "bush_rate": _bushes,
    "unsprung_mass": _unsprung,
    "tyre_pressure": lambda a, f, v: dataclasses.replace(a, tyre=a.tyre.inflated(v)),
    "tyre_stiffness": lambda a, f, v: dataclasses.replace(
        a, tyre=dataclasses.replace(a.tyre, vertical_stiffness=v * a.tyre.vertical_stiffness)
    ),
    "tyre_damping": lambda a, f, v: dataclasses.replace(
        a, tyre=dataclasses.replace(a.tyre, vertical_damping=v * a.tyre.vertical_damping)
    ),
    "cornering_stiffness": lambda a, f, v: dataclasses.replace(
        a, tyre=dataclasses.replace(a.tyre, cornering_stiffness=v * a.tyre.cornering_stiffness)
    ),
}


def _inertia(axis: int) -> Callable[[MassState, float], MassState]:
    def change(body: MassState, factor: float) -> MassState:
        three = list(body.inertia)
        three[axis] *= factor
        return dataclasses.replace(body, inertia=(three[0], three[1], three[2]))

    return change


_BODY_WAYS: Mapping[str, Callable[[MassState, float], MassState]] = {
    "body_mass": lambda b, v: dataclasses.replace(
        b, mass=v * b.mass, inertia=_times(b.inertia, v), products=_times(b.products, v)
    ),
    "centre_height": lambda b, v: dataclasses.replace(b, centre=(b.centre[0], b.centre[1], b.centre[2] + v)),
    "roll_inertia": _inertia(0),
    "pitch_inertia": _inertia(1),
    "yaw_inertia": _inertia(2),
}
