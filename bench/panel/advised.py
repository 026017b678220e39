"""The adviser as a method of the panels: it is shown builds, drivers by number, verdicts and marks, nothing else."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from panel.builds import APART, BELOW, COMPRESSION, COUNTS, REBOUND, SPRINGS, Build, neighbours
from panel.claims import Claims
from panel.nominal import Nominal
from panel.taste import ATTRIBUTES, Said
from panel.world import COMFORT, CONTROL, MEASURES, SECTIONS
from tussock.errors import SolverError
from tussock.mechanics.tuning import (
    OVERALL,
    Advice,
    Attribute,
    Drives,
    Emulator,
    Lattice,
    NotBelow,
    PairVerdict,
    Rating,
    advise,
)

REACH = 3
"""Steps of an adjuster at most from some build that was driven."""
LATTICE = Lattice(
    counts=tuple(int(c) for c in COUNTS),
    rules=(
        *(NotBelow(adjuster=int(r), other=int(c), slack=BELOW) for r, c in zip(REBOUND, COMPRESSION, strict=True)),
        NotBelow(adjuster=SPRINGS[0], other=SPRINGS[1], slack=APART),
        NotBelow(adjuster=SPRINGS[1], other=SPRINGS[0], slack=APART),
    ),
    reach=REACH,
)


def emulator_of(nominal: Nominal) -> Emulator:
    """Return the adviser's emulator of the simulation, fitted once for all panels."""
    attributes = tuple(
        Attribute(
            name=f"{SECTIONS[s].name}, {kind}",
            measures=tuple(s * len(MEASURES) + m for m in (COMFORT if kind == "comfort" else CONTROL)),
        )
        for s, kind in ATTRIBUTES
    )
    flat = nominal.measures.reshape(len(nominal.builds), -1)
    return Emulator.fit(LATTICE, attributes, np.array(nominal.builds), flat)


class Advised:
    """Drives what the adviser proposes, and would release the best build that it knows of those driven.

    Attributes
    ----------
    unsettled : int
        How many fits did not settle.
    """

    def __init__(self, emulator: Emulator) -> None:
        self._emulator = emulator
        self._drives = Drives()
        self._advice = advise(self._drives, LATTICE, emulator, seed=0)
        self.unsettled = 0

    def ask(self) -> tuple[Build, Build | None]:
        """Return the build that is advised, and the one to compare it with."""
        return self._advice.next, self._advice.reference

    def tell(self, said: Said) -> None:
        """Hand over what was said and take new advice."""
        old = self._drives
        builds = tuple(dict.fromkeys((*old.builds, said.build)))
        tried = builds.index(said.build)
        respects = (*range(len(ATTRIBUTES)), OVERALL)
        verdicts: tuple[PairVerdict, ...] = ()
        if said.reference is not None and said.reference != said.build:
            against = builds.index(said.reference)
            verdicts = tuple(
                PairVerdict(tried=tried, reference=against, attribute=a, verdict=v)
                for a, v in zip(respects, said.verdicts, strict=True)
            )
        marks = tuple(
            Rating(build=tried, attribute=a, driver=said.driver, day=said.day, mark=mark)
            for a, mark in zip(respects, said.marks, strict=True)
        )
        self._drives = Drives(
            builds=builds,
            driven=(*old.driven, tried),
            verdicts=(*old.verdicts, *verdicts),
            ratings=(*old.ratings, *marks),
        )
        seed = len(self._drives.driven)
        for start in (self._advice.belief, None):
            try:
                self._advice = advise(self._drives, LATTICE, self._emulator, seed=seed, start=start)
                return
            except SolverError:
                self.unsettled += 1  # once more from the prior; the advice before it stands if that fails too

    @property
    def advice(self) -> Advice:
        """The latest advice."""
        return self._advice

    @property
    def released(self) -> Build:
        """The build that is recommended."""
        return self._advice.next if self._advice.recommended is None else self._advice.recommended

    def claims(self, far: Sequence[Build], drive: int) -> Claims:
        """Return what the adviser claims of builds against what it recommends."""
        belief, here = self._advice.belief, self.released

        def told(builds: Sequence[Build]) -> list[tuple[Build, float, float]]:
            mean, spread = belief.difference(np.array(builds), here)
            return [(b, float(m), float(s)) for b, m, s in zip(builds, mean, spread, strict=True)]

        return Claims(
            drive=drive,
            incumbent=here,
            far=told(far),
            near=told(neighbours(here)),
            unsure=self._advice.verdict == "not enough evidence",
            proposal=self._advice.optimum,
        )
