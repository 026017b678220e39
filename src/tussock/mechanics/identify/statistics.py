"""A drive on a road that is not known point by point, as a row of figures that a model can be held against.

The road's exact surface is unknown, its kind is known; so not the time histories are compared but what they have in
common from road to road: the power of each motion in bands, how hubs and body move together, how the dampers' speed and
mean position lean to one side. All are logarithms or angles, near enough to normal over roads.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.logger.spectra import band_power, cross_spectra, octave_bands

WHEELS = ("front_left", "front_right", "rear_left", "rear_right")
LOW, HIGH, PER_OCTAVE = 0.7, 30.0, 2  # bands [Hz]; of transfers one an octave
SEGMENT = 4.0  # [s]

#: Motions of both wheels of an axle: half the sum and half the difference, by name of the channels' stem.
PAIRED = ("hub", "damper", "body")
#: Channels that stand alone.
SINGLE = ("seat_z", "pitch_rate", "roll_rate", "yaw_rate", "lateral")


@dataclass(frozen=True, kw_only=True, eq=False)
class Statistics:
    """Figures of one section: their names and values (n,)."""

    names: tuple[str, ...]
    values: Floats

    def __post_init__(self) -> None:
        """Refuse figures that are none."""
        if self.values.shape != (len(self.names),):
            raise DomainError(f"{len(self.names)} names for {self.values.size} figures")
        if not np.all(np.isfinite(self.values)):
            bad = self.names[int(np.argmax(~np.isfinite(self.values)))]
            raise DomainError(f"{bad} is not a number")


def motions(channels: Mapping[str, Floats]) -> dict[str, Floats]:
    """Return the motions of a set of channels: sums and differences over an axle where both sides are there.

    An axle of which one side is missing (a dead sensor) gives nothing: one wheel alone mixes heave and roll.
    """
    out: dict[str, Floats] = {}
    for stem in PAIRED:
        for end in ("front", "rear"):
            left, right = (channels.get(f"{stem}_{end}_{side}") for side in ("left", "right"))
            if left is not None and right is not None:
                out[f"{end} {stem} heave"] = 0.5 * (left + right)
                out[f"{end} {stem} roll"] = 0.5 * (left - right)
            elif (middle := channels.get(f"{stem}_{end}")) is not None:
                out[f"{end} {stem} heave"] = middle
    for name in SINGLE:
        if name in channels:
            out[name.replace("_", " ")] = channels[name]
    return out


def statistics(
    pieces: list[Mapping[str, Floats]], step: float, *, rest: Mapping[str, float] | None = None
) -> Statistics:
    """Return the figures of one section driven once or several times.

    Parameters
    ----------
    pieces : list of mapping
        Channels of each run by key, at even times: ``hub_front_left`` and so on vertical accelerations [m/s^2],
        ``damper_...`` shortening of the damper [m], ``body_...`` vertical accelerations of the body [m/s^2], ``seat_z``
        [m/s^2], ``pitch_rate``, ``roll_rate`` [rad/s], ``lateral`` [m/s^2]. What is not there is left out.
    step : float
        Between samples [s].
    rest : mapping, optional
        Dampers' shortening at rest by key [m]; gives their mean positions.

    Raises
    ------
    DomainError
        A run is shorter than a segment, or a channel does not move.
    """
    if not pieces:
        raise DomainError("no run to take figures from")
    split = [motions(p) for p in pieces]
    keys = [k for k in split[0] if all(k in s for s in split)]
    joints = [
        (one, other)
        for end in ("front", "rear")
        for one, other in ((f"{end} hub heave", f"{end} body heave"), (f"{end} hub roll", "roll rate"))
        if one in keys and other in keys
    ]
    place = {key: i for i, key in enumerate(keys)}
    pairs = [(i, i) for i in range(len(keys))] + [(place[one], place[other]) for one, other in joints]
    stacked = [np.stack([s[key] for key in keys]) for s in split]
    frequency, density = cross_spectra(stacked, pairs, step, segment=SEGMENT)
    own = np.real(density[: len(keys)])
    for key, power in zip(keys, own, strict=True):
        if not np.all(power[1:] > 0.0):
            raise DomainError(f"{key} does not move; is its sensor dead?")
    power = band_power(frequency, own, octave_bands(low=LOW, high=HIGH, per_octave=PER_OCTAVE))
    edges = octave_bands(low=LOW, high=HIGH, per_octave=1)
    names: list[str] = []
    values: list[float] = []
    for key, bands in zip(keys, power, strict=True):
        names += [f"{key}, band {i + 1}" for i in range(bands.size)]
        values += [float(np.log(p)) for p in bands]
    for k, (one, other) in enumerate(joints):
        cross = density[len(keys) + k]
        under = band_power(frequency, own[place[one]], edges)
        parts = [band_power(frequency, part, edges) / under for part in (cross.real, cross.imag)]
        scale = float(np.mean(np.hypot(*parts))) + 1e-12
        for word, part in zip(("in phase", "across"), parts, strict=True):
            names += [f"{other} over {one}, band {i + 1} {word}" for i in range(part.size)]
            values += [float(x) / scale for x in part]
        names.append(f"{other} over {one}, mean")
        values.append(float(np.log(scale)))
    for end in ("front", "rear"):
        key = f"{end} damper heave"
        if key not in keys:
            continue
        speed = np.concatenate([np.gradient(s[key], step) for s in split])
        closing, opening = speed[speed > 0.0], -speed[speed < 0.0]
        for degree in (1, 2, 4):
            names.append(f"{end} damper, closing over opening, power {degree}")
            values.append(float(np.log(np.mean(closing**degree) / np.mean(opening**degree))))
        if rest is not None:
            still = 0.5 * sum(rest[f"damper_{end}_{side}"] for side in ("left", "right"))
            names.append(f"{end} damper, mean position [mm]")
            values.append(1e3 * float(np.mean([np.mean(s[key]) for s in split]) - still))
    return Statistics(names=tuple(names), values=np.array(values))
