"""Ways to tune without an adviser: what a method does with the drives that it has. None sees what is hidden."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Protocol

import numpy as np

from panel.builds import COUNTS, Build, build_of, is_safe, random_safe
from panel.taste import Said

SOFT: Build = (0,) * len(COUNTS)
FRONT, REAR = tuple(range(6)), tuple(range(6, 12))
#: Whole dampers first, then their directions, springs and bar.
GROUPS: tuple[tuple[int, ...], ...] = (
    FRONT + REAR, FRONT, REAR, FRONT[:3] + REAR[:3], FRONT[3:] + REAR[3:], (12, 13), (14,),
    FRONT[:3], FRONT[3:], REAR[:3], REAR[3:], (0, 3, 6, 9), (1, 4, 7, 10), (2, 5, 8, 11),
)  # fmt: skip


class Player(Protocol):
    """A method: asked for the next build and its reference, told what was said of it, asked what it would release."""

    def ask(self) -> tuple[Build, Build | None]:
        """Return the build to drive and the one that it is compared with; the first has none."""

    def tell(self, said: Said) -> None:
        """Take what was said of the build just driven."""

    @property
    def released(self) -> Build:
        """The build that it would hand over now; one that was driven."""


def heard(said: Said) -> float:
    """Return what a stepping engineer makes of one drive: the verdict on the whole and the mean of the others."""
    return 0.5 * said.verdicts[-1] + 0.5 * float(np.mean(said.verdicts[:-1]))


class Stepper:
    """Drives what a walk proposes against the build it has, and keeps what is heard to be better by more than a bar.

    Parameters
    ----------
    start : Build
        Driven first.
    walk : callable
        Makes a generator from itself; it yields builds to try and is told by `kept` whether the last was kept.
    bar : float
        How much better a build must be heard to be, between 0 (anything better) and 2.
    """

    def __init__(self, start: Build, walk: Callable[[Stepper], Iterator[Build]], *, bar: float) -> None:
        self.at, self._bar = start, bar
        self.kept = False
        self._begun = False
        self._walk = walk(self)

    def ask(self) -> tuple[Build, Build | None]:
        """Return the next step and the present build."""
        if not self._begun:
            return self.at, None
        return next(self._walk), self.at

    def tell(self, said: Said) -> None:
        """Keep the build or go back."""
        if not self._begun:
            self._begun = True
            return
        self.kept = heard(said) > self._bar
        if self.kept:
            self.at = said.build

    @property
    def released(self) -> Build:
        """The present build."""
        return self.at


def moved(build: Build, group: tuple[int, ...], step: int) -> Build | None:
    """Return a build with a group of adjusters moved as far as each goes; None if that is unsafe or nothing moves."""
    row = np.array(build)
    row[list(group)] += step
    row = np.clip(row, 0, COUNTS - 1)
    out = build_of(row)
    return out if out != build and bool(is_safe(row)[0]) else None


def one_at_a_time(walker: Stepper) -> Iterator[Build]:
    """Firm up one adjuster while that is better, then the next; on later rounds try softer where firmer is not."""
    yield from _rounds(walker, [(i,) for i in range(len(COUNTS))], sizes=(1,))


def grouped(walker: Stepper) -> Iterator[Build]:
    """Move whole dampers by two steps, then smaller groups, then everything again by one."""
    yield from _rounds(walker, GROUPS, sizes=(2, 1))


def _rounds(walker: Stepper, groups: list[tuple[int, ...]] | tuple[tuple[int, ...], ...],
            sizes: tuple[int, ...]) -> Iterator[Build]:  # fmt: skip
    size, idle = 0, 0
    while True:
        tried = 0
        for group in groups:
            for way in (1, -1):
                won = False
                while (step := moved(walker.at, group, way * sizes[size])) is not None:
                    tried += 1
                    yield step
                    if not walker.kept:
                        break
                    won = True
                if won:
                    break
        size = min(size + 1, len(sizes) - 1)
        idle = idle + 1 if tried == 0 else 0
        if idle > len(sizes):
            yield walker.at  # nothing is left to move: the build is driven again


class Random:
    """Drives random safe builds and keeps what is heard to be better."""

    def __init__(self, seed: int) -> None:
        self._random = np.random.default_rng(seed)
        self._at: Build | None = None

    def ask(self) -> tuple[Build, Build | None]:
        """Return any safe build."""
        return random_safe(self._random, 1)[0], self._at

    def tell(self, said: Said) -> None:
        """Keep the better one."""
        if self._at is None or heard(said) > 0.0:
            self._at = said.build

    @property
    def released(self) -> Build:
        """The best heard."""
        assert self._at is not None
        return self._at
