"""What a panel's drivers want and how they say it: hidden weights, curvature and noise, from the panel's own seed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from panel.builds import KEYS, Build, scaled
from panel.world import COMFORT, CONTROL, MEASURES, SECTIONS
from tussock.mechanics.arrays import Floats

ATTRIBUTES = tuple((s, kind) for s in range(len(SECTIONS)) for kind in ("comfort", "control"))
"""What drivers judge: comfort and control of each section; overall besides."""
NOISE = {"low": 0.42, "middle": 1.0, "high": 2.0}
_LEAK = 0.15  # share of an attribute that hangs on measures which the house counts to the other kind
_WAVES = 6  # of the part of an attribute that no measure holds
_UNMODELLED = 0.22  # its standard deviation at model error 1, over that of the attribute
_FAR = 4.0  # standardised measures beyond this count as this


class Taste:
    """True utility of builds for one panel, in units of an attribute's spread over random safe builds.

    Parameters
    ----------
    random : Generator
        Of the panel.
    error : float
        Size of the model error: the part that no measure holds grows with it.
    centre, spread : array (6, 9)
        Of the logarithms of measures over random builds as computed: what is read as usual.
    """

    def __init__(self, random: np.random.Generator, *, error: float, centre: Floats, spread: Floats) -> None:
        self.drivers = int(random.integers(1, 4))
        self._centre, self._spread = centre, spread
        self._curve = random.uniform(0.1, 0.7, size=(len(SECTIONS), len(MEASURES)))
        mean = np.zeros((len(ATTRIBUTES), len(MEASURES)))
        for j, (_, kind) in enumerate(ATTRIBUTES):
            own = list(COMFORT if kind == "comfort" else CONTROL)
            mean[j] = _LEAK * random.dirichlet(np.ones(len(MEASURES)))
            mean[j, own] += (1.0 - _LEAK) * random.dirichlet(np.full(len(own), 1.5))
        shares = random.dirichlet(np.full(len(ATTRIBUTES), 1.5))
        self._weights = _normed(mean * np.exp(0.3 * random.normal(size=(self.drivers, *mean.shape))))
        self._shares = _normed(shares * np.exp(0.4 * random.normal(size=(self.drivers, len(ATTRIBUTES)))))
        self._amplitude = error * _UNMODELLED
        active = random.random((len(ATTRIBUTES), _WAVES, len(KEYS))) < 0.35
        self._frequency = active * random.normal(scale=1.5, size=active.shape)
        self._phase = random.uniform(0.0, 2.0 * np.pi, size=(len(ATTRIBUTES), _WAVES))
        self._level, self._scale = np.zeros(len(ATTRIBUTES)), np.ones(len(ATTRIBUTES))

    def settle(self, measures: Floats, builds: Sequence[Build]) -> None:
        """Take random builds' measures (n, 6, 9) for the unit of every attribute."""
        raw = self._raw(measures).mean(axis=0)
        self._level, self._scale = raw.mean(axis=0), raw.std(axis=0)

    def _raw(self, measures: Floats) -> Floats:
        z = np.clip((measures - self._centre) / self._spread, -_FAR, _FAR)
        worse = np.expm1(self._curve * z) / self._curve
        at = worse[:, [s for s, _ in ATTRIBUTES], :]
        return -np.einsum("njk,djk->dnj", at, self._weights)

    def attributes(self, measures: Floats, builds: Sequence[Build]) -> Floats:
        """Return every driver's attributes of builds (drivers, n, 12)."""
        x = scaled(np.array(builds))
        wave = np.cos(np.einsum("na,jwa->njw", x, self._frequency) + self._phase)
        besides = self._amplitude * np.sqrt(2.0 / _WAVES) * wave.sum(axis=2)
        return np.asarray((self._raw(measures) - self._level) / self._scale + besides)

    def overall(self, measures: Floats, builds: Sequence[Build]) -> Floats:
        """Return every driver's utility of builds (drivers, n)."""
        return np.einsum("dnj,dj->dn", self.attributes(measures, builds), self._shares)

    def utility(self, measures: Floats, builds: Sequence[Build]) -> Floats:
        """Return the true utility of builds (n,): the mean of the drivers'."""
        return np.asarray(self.overall(measures, builds).mean(axis=0))


def _normed(weights: Floats) -> Floats:
    return np.asarray(weights / weights.sum(axis=-1, keepdims=True))


@dataclass(frozen=True, kw_only=True)
class Said:
    """What one drive brought: nothing that is hidden.

    Attributes
    ----------
    build, reference : Build
        Driven, and against which; the first drive of all has none.
    driver, day : int
        Who drove, and which day it was; drivers change turns, every drive has its own day.
    verdicts : tuple of int
        Of the attributes in the order of `ATTRIBUTES`, then overall: -2 much worse to 2 much better; empty without
        a reference.
    marks : tuple of float
        Of the same, 1 to 10 in halves.
    """

    build: Build
    reference: Build | None
    driver: int
    day: int
    verdicts: tuple[int, ...]
    marks: tuple[float, ...]


class Mouths:
    """How the drivers of a panel say what they feel; one for each method, alike from the same seed."""

    def __init__(self, random: np.random.Generator, *, drivers: int, noise: float) -> None:
        self._random = random
        n = len(ATTRIBUTES) + 1
        self._noise = noise * random.uniform(0.21, 0.48, size=drivers)
        self._same = random.uniform(0.2, 0.5, size=drivers) * 0.35
        self._much = self._same + random.uniform(0.6, 1.4, size=drivers) * 0.6
        self._lapse = np.minimum(random.uniform(0.02, 0.10, size=drivers) * noise, 0.25)
        self._gain = random.uniform(0.9, 1.8, size=drivers)
        self._mark_noise = noise * random.uniform(0.5, 1.0, size=drivers)
        self._bias = 6.0 + random.normal(scale=0.7, size=(drivers, 1)) + random.normal(scale=0.7, size=(drivers, n))
        self._drift = 0.0
        self._step, self._mood = 0.08 * noise, 0.3 * noise
        self._count, self._previous = 0, None  # type: tuple[int, Build | None]

    def drive(self, felt: Floats, before: Floats | None, *, build: Build, reference: Build | None) -> Said:
        """Return what is said of a drive.

        Parameters
        ----------
        felt, before : array (drivers, 13)
            True attributes and utility of the build and of the reference.
        build, reference : Build
            Their levels.
        """
        r, d = self._random, self._count % len(self._noise)
        self._drift += self._step * r.normal()
        n = felt.shape[1]
        verdicts: tuple[int, ...] = ()
        if before is not None:
            # the noise of a judgement of the whole is as large against its own, smaller spread as that of an attribute
            longer = 1.0 if reference == self._previous else 1.3
            size = self._noise[d] * longer * np.where(np.arange(n) == n - 1, 0.7, 1.0)
            heard = felt[d] - before[d] + size * r.normal(size=n)
            words = np.digitize(heard, [-self._much[d], -self._same[d], self._same[d], self._much[d]]) - 2
            slips = r.random(n) < self._lapse[d]
            words[slips] = r.integers(-2, 3, size=int(slips.sum()))
            verdicts = tuple(int(w) for w in words)
        marks = self._bias[d] + self._gain[d] * felt[d] + self._drift + self._mood * r.normal()
        marks = marks + self._mark_noise[d] * r.normal(size=n)
        said = Said(
            build=build,
            reference=reference,
            driver=d,
            day=self._count,
            verdicts=verdicts,
            marks=tuple(float(v) for v in np.clip(np.round(2.0 * marks) / 2.0, 1.0, 10.0)),
        )
        self._count, self._previous = self._count + 1, build
        return said
