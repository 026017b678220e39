"""One panel: its hidden vehicle and drivers, the best build that can be reached, and the scales of regret."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from panel.builds import COUNTS, Build, build_of, neighbours, random_safe, scaled
from panel.nominal import Nominal, ascend, moves, write_whole
from panel.taste import NOISE, Mouths, Said, Taste
from panel.world import Scene, World, draw_errors
from tussock.mechanics.arrays import Floats

RANDOM = 120
"""Random safe builds driven for the scale of regret."""
_ROUNDS = 5  # of guessing where the best is and driving there
_BATCH = 12  # builds driven a round
_REACH = 0.9  # correlation length of what the guess leaves, in half ranges over 15 adjusters together
_NUGGET = 0.02
_POLISH = 4  # passes over the neighbours at most


@dataclass(frozen=True, kw_only=True)
class Scales:
    """True utilities that regret is measured with: best found, median random safe build, softest build."""

    best: float
    median: float
    soft: float
    driven: int


class Panel:
    """A panel that can be asked to drive builds; what it hides stays in here.

    Parameters
    ----------
    scene, nominal : Scene, Nominal
        Common to all panels.
    seed : int
        Of the panel: vehicle errors, tastes, and what its drivers say come from it alone.
    error : float
        Size of the model error; 0.5 as usual.
    noise : str
        Of the drivers: "low", "middle", "high".
    folder : Path, optional
        Where builds that this vehicle drove in earlier runs are remembered; no method reads there.
    """

    def __init__(
        self, scene: Scene, nominal: Nominal, seed: int, *, error: float = 0.5, noise: str = "middle",
        folder: Path | None = None,
    ) -> None:  # fmt: skip
        vehicle, taste, self._starts, self._says = (
            np.random.default_rng(s) for s in np.random.SeedSequence([seed, 771]).spawn(4)
        )
        self._seed = seed
        self._world = World(scene, draw_errors(vehicle, error))
        self._file = None if folder is None else folder / f"panel-{nominal.key}-{error:g}-{seed}.npz"
        if self._file is not None and self._file.exists():
            with np.load(self._file) as kept:
                self._world.remember(dict(zip(map(build_of, kept["builds"]), kept["measures"], strict=True)))
        self._taste = Taste(taste, error=error, centre=nominal.centre, spread=nominal.spread)
        self._nominal = nominal
        self._noise = NOISE[noise]
        self.random_builds = random_safe(self._starts, RANDOM)
        self._taste.settle(self._measures(self.random_builds), self.random_builds)

    def keep(self) -> None:
        """Write what the vehicle drove where a later run of this panel finds it."""
        if self._file is not None and self._world.fresh:
            driven = self._world.driven
            write_whole(self._file, builds=np.array(list(driven)), measures=np.array(list(driven.values())))
            self._world.fresh = False

    @property
    def drivers(self) -> int:
        """How many drivers take turns; they are known by name."""
        return self._taste.drivers

    def _measures(self, builds: Sequence[Build]) -> Floats:
        return np.array([self._world.measures(b) for b in builds])

    def true(self, builds: Sequence[Build]) -> Floats:
        """Return the true utility (n,); never shown to a method."""
        return self._taste.utility(self._measures(builds), builds)

    def session(self) -> Callable[[Build, Build | None], Said]:
        """Return a new round of drives: the same drivers with the same luck for every method."""
        mouths = Mouths(np.random.default_rng([self._seed, 772]), drivers=self.drivers, noise=self._noise)

        def drive(build: Build, reference: Build | None) -> Said:
            before = None if reference is None else self._felt(reference)
            return mouths.drive(self._felt(build), before, build=build, reference=reference)

        return drive

    def _felt(self, build: Build) -> Floats:
        measures = self._measures([build])
        parts = self._taste.attributes(measures, [build])[:, 0]
        return np.hstack([parts, self._taste.overall(measures, [build])])

    def scales(self) -> Scales:
        """Return the scales of regret; the best is the best found, so a lower bound on the best there is."""
        known = {b: float(u) for b, u in zip(self.random_builds, self.true(self.random_builds), strict=True)}
        soft: Build = (0,) * len(COUNTS)
        known[soft] = float(self.true([soft])[0])
        median = float(np.median([known[b] for b in self.random_builds]))

        def drive(builds: Sequence[Build]) -> None:
            fresh = [b for b in dict.fromkeys(builds) if b not in known]
            if fresh:
                known.update(zip(fresh, map(float, self.true(fresh)), strict=True))

        for _ in range(_ROUNDS):
            guess = self._guess(known)
            top = sorted(known, key=known.__getitem__, reverse=True)[:3]
            peak = ascend(guess, [*top, self.random_builds[0]])
            near = sorted({*moves(peak), *moves(top[0])} - {peak, *known})
            order = np.argsort(-guess(near))[:_BATCH] if near else []  # all may have been driven
            drive([peak, *(near[i] for i in order)])
        for _ in range(_POLISH):
            best = max(known, key=known.__getitem__)
            drive(neighbours(best))
            if max(known, key=known.__getitem__) == best:
                break
        return Scales(best=max(known.values()), median=median, soft=known[soft], driven=len(self._world.driven))

    def _guess(self, known: dict[Build, float]) -> Callable[[Sequence[Build]], Floats]:
        """Return utility as guessed: by true weights on computed measures, a smooth rest through what was driven."""
        builds = list(known)
        left = np.array([known[b] for b in builds]) - self._computed(builds)
        level, size = left.mean(), max(float(left.std()), 1e-9)
        x = scaled(np.array(builds))
        length = _REACH * np.sqrt(x.shape[1])

        def kernel(one: Floats, two: Floats) -> Floats:
            away = (one**2).sum(axis=1)[:, None] + (two**2).sum(axis=1) - 2.0 * one @ two.T
            return np.exp(-0.5 * np.maximum(away, 0.0) / length**2)

        weights = np.linalg.solve(kernel(x, x) + _NUGGET * np.eye(len(x)), (left - level) / size)

        def guess(asked: Sequence[Build]) -> Floats:
            rest = kernel(scaled(np.array(asked)), x) @ weights
            return np.asarray(self._computed(asked) + level + size * rest)

        return guess

    def _computed(self, builds: Sequence[Build]) -> Floats:
        return self._taste.utility(self._nominal.predicted(builds), builds)
