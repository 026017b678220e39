"""Vehicles of a production: drawn over its causes in every fit-out, driven on the loop, and the worst one's causes."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats
from scipy.stats import qmc

import tussock
from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats
from tussock.studies import points
from tussock.studies.adjusters import adjuster
from tussock.studies.job import Job, Setup
from tussock.studies.loop import WORKERS
from tussock.studies.point_file import Inputs
from tussock.studies.point_runs import How, Report, run
from tussock.studies.points import Scene
from tussock.studies.robust_causes import Cause, causes, together

USUAL = How(threads=WORKERS)
"""How vehicles are driven unless said otherwise."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Driven:
    """Vehicles driven on the loop, each against stock in its own fit-out.

    Attributes
    ----------
    fitouts : tuple of str (n,)
    places : array (n, d)
        In the unit cube of the causes; NaN where a cause was left as drawn.
    comfort, control : array (n,)
        Indices, below 1 better than stock; NaN where it could not be driven.
    failed : tuple of str
        Why some could not.
    """

    fitouts: tuple[str, ...]
    places: Floats
    comfort: Floats
    control: Floats
    failed: tuple[str, ...]

    def index(self, name: str) -> Floats:
        """Return one index of all that were driven."""
        values = self.comfort if name == "comfort" else self.control
        return np.asarray(values[np.isfinite(values)])

    def better(self, name: str) -> tuple[int, int]:
        """Return how many stay better than stock, and of how many."""
        values = self.index(name)
        return int(np.sum(values < 1.0)), int(values.size)


def chance(good: int, of: int, *, confidence: float = 0.95) -> tuple[float, float]:
    """Return the interval of a probability by Clopper and Pearson.

    >>> chance(8, 8)[0] > 0.6, chance(8, 8)[1]
    (True, 1.0)
    """
    found = stats.binomtest(good, of).proportion_ci(confidence, method="exact")
    return float(found.low), float(found.high)


@dataclass(frozen=True, kw_only=True, eq=False)
class Production:
    """A build in all its fit-outs, ready to be drawn from: scene and causes of each.

    Attributes
    ----------
    setup : Setup
    scenes, causes : mapping
        By fit-out; causes are alike in number, kind and size.
    inputs : mapping
        All that figures depend on beside fit-out and values, for the files of results.
    """

    setup: Setup
    scenes: Mapping[str, Scene]
    causes: Mapping[str, tuple[Cause, ...]]
    inputs: Inputs

    @property
    def fitouts(self) -> tuple[str, ...]:
        """Names, the setup's own first."""
        return tuple(self.scenes)

    @property
    def own(self) -> tuple[Cause, ...]:
        """Causes in the setup's own fit-out."""
        return self.causes[self.setup.fitout]

    @property
    def over(self) -> str:
        """Say over what is drawn, oil only where it is."""
        oil = any(c.key == "oil" for c in self.own)
        return "production, fit-outs, tyre pressures and oil" if oil else "production, fit-outs and tyre pressures"

    def slices(self) -> Mapping[str, slice]:
        """Return where each cause has its places."""
        out: dict[str, slice] = {}
        at = 0
        for cause in self.own:
            out[cause.key] = slice(at, at + cause.size)
            at += cause.size
        return out

    def settings(self, fitout: str, places: Floats) -> dict[str, float]:
        """Return the adjusters of a vehicle from its places; NaN leaves a cause as drawn."""
        out: dict[str, float] = {}
        for cause, where in zip(self.causes[fitout], self.slices().values(), strict=True):
            if np.all(np.isfinite(places[where])):
                out = together(out, cause.factors(places[where]))
        return out

    def words(self, fitout: str, places: Floats) -> str:
        """Say what a vehicle is off by."""
        told = [
            c.told(places[where])
            for c, where in zip(self.causes[fitout], self.slices().values(), strict=True)
            if np.all(np.isfinite(places[where]))
        ]
        return "; ".join([fitout, *told])


def production(job: Job, setup: Setup) -> Production:
    """Return a build in every fit-out of the programme, made once."""
    key = ("production", setup)
    if key not in job.memo:
        names = list(dict.fromkeys((setup.fitout, *job.programme.fitouts)))
        made = {f: causes(job, Setup(fitout=f, build=setup.build)) for f in names}
        sizes = {tuple((c.key, c.size) for c in found) for found in made.values()}
        assert len(sizes) == 1  # dampers and axles are the build's, whatever the fit-out
        scenes = {f: points.scene_of(job, Setup(fitout=f, build=setup.build)) for f in names}
        inputs = {
            "programme": job.loaded.digest,
            "attached files": dict(sorted(job.loaded.hashes.items())),
            "Tussock": tussock.__version__,
            "build": setup.build,
        }
        job.memo[key] = Production(setup=setup, scenes=scenes, causes=made, inputs=inputs)
    found = job.memo[key]
    assert isinstance(found, Production)
    return found


def drive(
    made: Production,
    fitouts: Sequence[str],
    places: Floats,
    *,
    how: How,
    report: Report | None = None,
) -> Driven:
    """Drive vehicles, each given by its fit-out and its places (n, d)."""
    comfort, control = np.full(len(fitouts), np.nan), np.full(len(fitouts), np.nan)
    failed: list[str] = []
    done = 0
    for fitout in dict.fromkeys(fitouts):
        numbers = [i for i, f in enumerate(fitouts) if f == fitout]
        settings = [made.settings(fitout, places[i]) for i in numbers]
        keys = sorted({key for one in settings for key in one})
        scene = dataclasses.replace(made.scenes[fitout], keys=tuple(keys))
        neutral = {key: adjuster(key).neutral for key in keys}
        values = np.array([[{**neutral, **one}[key] for key in keys] for one in settings]).reshape(len(numbers), -1)
        before, lost = done, len(failed)

        def told(now: int, _: int, bad: int, before: int = before, lost: int = lost) -> None:
            if report is not None:
                report(before + now, len(fitouts), lost + bad)

        table = run(scene, values, how=how, inputs={**made.inputs, "fit-out": fitout}, report=told)
        comfort[numbers], control[numbers] = table.column("comfort"), table.column("control")
        failed += [f"{made.words(fitout, places[numbers[i]])}: {why}" for i, why in table.failed.items()]
        done += len(numbers)
    return Driven(fitouts=tuple(fitouts), places=places, comfort=comfort, control=control, failed=tuple(failed))


def drawn(made: Production, *, count: int, seed: int, how: How = USUAL, report: Report | None = None) -> Driven:
    """Return vehicles drawn over all causes and fit-outs by a Latin hypercube, driven.

    Raises
    ------
    SolverError
        If none of them could be driven.
    """
    size = sum(c.size for c in made.own)
    unit = qmc.LatinHypercube(size + 1, rng=np.random.default_rng(seed)).random(count)
    names = made.fitouts
    chosen = [names[min(int(u * len(names)), len(names) - 1)] for u in unit[:, -1]]
    found = drive(made, chosen, unit[:, :-1], how=how, report=report)
    if not np.any(np.isfinite(found.control)):
        raise SolverError(f"none of {count} vehicles could be driven; the first: {found.failed[0]}")
    return found


def alone(made: Production, *, count: int, seed: int, how: How, report: Report | None = None) -> Mapping[str, Driven]:
    """Return for each cause vehicles of the setup's own fit-out that are off by that cause alone; fit-outs likewise."""
    size, where = sum(c.size for c in made.own), made.slices()
    names = made.fitouts
    total = count * len(made.own) + len(names)
    out: dict[str, Driven] = {}
    for n, cause in enumerate(made.own):
        unit = qmc.LatinHypercube(cause.size, rng=np.random.default_rng([seed, n])).random(count)
        places = np.full((count, size), np.nan)
        places[:, where[cause.key]] = unit
        out[cause.key] = drive(
            made, [made.setup.fitout] * count, places, how=how, report=_after(report, n * count, total)
        )
    out["fitouts"] = drive(
        made, names, np.full((len(names), size), np.nan), how=how,
        report=_after(report, count * len(made.own), total),
    )  # fmt: skip
    return out


def _after(report: Report | None, before: int, total: int) -> Report | None:
    return None if report is None else (lambda now, _, bad: report(before + now, total, bad))


def blamed(made: Production, every: Driven, *, how: How) -> tuple[int, Mapping[str, float]]:
    """Return the vehicle that holds the road worst, and what each cause of it does to control there by itself."""
    worst = int(np.nanargmax(every.control))
    fitout, places = every.fitouts[worst], every.places[worst]
    rows = [np.full(places.size, np.nan)]
    for where in made.slices().values():
        row = np.full(places.size, np.nan)
        row[where] = places[where]
        rows.append(row)
    found = drive(made, [fitout] * len(rows), np.array(rows), how=how).control
    base = drive(made, [made.setup.fitout], rows[0][None, :], how=how).control[0]
    by = {"fitouts": math.log(found[0] / base)}
    by |= {c.key: math.log(found[i + 1] / found[0]) for i, c in enumerate(made.own)}
    return worst, by
