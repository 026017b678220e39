"""The vehicle as computed: builds driven once on the model without errors, and polynomials through their measures."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

import tussock
from panel.builds import COUNTS, MIDDLE, Build, build_of, is_safe, random_safe, scaled
from panel.taste import ATTRIBUTES
from panel.world import COMFORT, CONTROL, Errors, Scene, World
from tussock.mechanics.arrays import Floats

DRIVEN = 700
_RIDGE = 1e-3
_SEED = 5
_CURVE = 0.3  # of the house's own opinion, which knows nobody's


def terms(builds: Sequence[Build]) -> Floats:
    """Return the terms of a full quadratic over scaled levels (n, 136)."""
    x = scaled(np.array(builds))
    i, j = np.triu_indices(x.shape[1])
    return np.hstack([np.ones((len(x), 1)), x, x[:, i] * x[:, j]])


@dataclass(frozen=True, kw_only=True)
class Nominal:
    """What the simulation says.

    Attributes
    ----------
    builds, measures : list of Build, array (n, 6, 9)
        Driven on the model; logarithms.
    coefficients : array (136, 54)
        Of the polynomials through them.
    centre, spread : array (6, 9)
        Of the logarithms over random builds.
    key : str
        Of the code and the vehicle model that this was computed with.
    """

    builds: tuple[Build, ...]
    measures: Floats
    coefficients: Floats
    centre: Floats
    spread: Floats
    key: str

    def predicted(self, builds: Sequence[Build]) -> Floats:
        """Return what the polynomials give (n, 6, 9)."""
        return (terms(builds) @ self.coefficients).reshape(len(builds), *self.centre.shape)

    def opinion(self, builds: Sequence[Build]) -> Floats:
        """Return the simulation's own utility (n,): every section and measure counts alike, bad ones a little more."""
        z = np.expm1(_CURVE * (self.predicted(builds) - self.centre) / self.spread) / _CURVE
        parts = [z[:, s, list(COMFORT if kind == "comfort" else CONTROL)].mean(axis=1) for s, kind in ATTRIBUTES]
        return -np.mean(parts, axis=0)

    def optimum(self, seed: int = 0) -> Build:
        """Return the build that the simulation likes best."""
        return ascend(self.opinion, random_safe(np.random.default_rng(seed), 8))


def ascend(worth, starts: Sequence[Build]) -> Build:  # type: ignore[no-untyped-def]
    """Return the best build that coordinate steps from several starts find; `worth` takes a list of builds."""
    best, height = starts[0], -np.inf
    for start in starts:
        at, value = start, float(worth([start])[0])
        while True:
            near = moves(at)
            values = worth(near)
            top = int(np.argmax(values))
            if values[top] <= value + 1e-9:
                break
            at, value = near[top], float(values[top])
        if value > height:
            best, height = at, value
    return best


def moves(build: Build) -> list[Build]:
    """Return the safe builds that differ in one adjuster, by any step, or in two by one step each."""
    at, rows = np.array(build), []
    for i, count in enumerate(COUNTS):
        for level in range(count):
            if level != at[i]:
                row = at.copy()
                row[i] = level
                rows.append(row)
        for j in range(i):
            for one in (-1, 1):
                for two in (-1, 1):
                    row = at.copy()
                    row[i] += one
                    row[j] += two
                    rows.append(row)
    tried = np.array(rows)
    return [build_of(row) for row in tried[is_safe(tried)]]


def read(scene: Scene, folder: Path) -> Nominal:
    """Return what the simulation says; from a file in the folder where that was computed with this very code."""
    here = Path(__file__).parent
    code = b"".join((here / name).read_bytes() for name in ("builds.py", "world.py", "nominal.py"))
    key = hashlib.sha256(code + tussock.__version__.encode() + _digest(scene)).hexdigest()[:16]
    kept = folder / f"nominal-{key}.npz"
    builds = (build_of(MIDDLE), *random_safe(np.random.default_rng(_SEED), DRIVEN))
    if kept.exists():
        measures = np.load(kept)["measures"]
    else:
        world = World(scene, Errors())
        measures = np.array([world.measures(b) for b in builds])
        write_whole(kept, measures=measures)
    flat, phi = measures.reshape(len(builds), -1), terms(builds)
    gram = phi.T @ phi + _RIDGE * np.eye(phi.shape[1])
    return Nominal(
        builds=builds,
        measures=measures,
        coefficients=np.linalg.solve(gram, phi.T @ flat),
        centre=measures.mean(axis=0),
        spread=measures.std(axis=0),
        key=key,
    )


def write_whole(file: Path, **arrays: np.ndarray) -> None:
    """Write arrays so that no other process ever reads half a file."""
    file.parent.mkdir(parents=True, exist_ok=True)
    part = file.parent / f"{file.stem}.{os.getpid()}.npz"
    np.savez(part, **arrays)  # type: ignore[arg-type]
    part.replace(file)


def _digest(scene: Scene) -> bytes:
    """Return what says whether the vehicle model gives the same: the measures of one build in the middle, rounded."""
    return np.round(World(scene, Errors()).measures(build_of(MIDDLE)), 9).tobytes()
