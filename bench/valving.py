"""Times of the stack search, the calibration and the production sample, on one thread.

``python bench/valving.py`` screens invented rebound stacks end to end (making candidates, grids, coarse states, forces,
ranking, and the fine trials of the best) and prints candidates a minute in processor time, their ratio to solving each
by the fine model in the whole damper in the same run, and what the coarse forces miss.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "mechanics" / "dampers"))
from tarn_builds import discs, mono, rebound, twin

from tussock.mechanics.dampers.assembly import DamperBuild, LiftTables, Parameters, force_at
from tussock.mechanics.dampers.calibrate import Observation, calibrate, predict
from tussock.mechanics.dampers.production import force_bands
from tussock.mechanics.dampers.search import Shelf, ShelfDisc, WantedPoint, search, with_valve
from tussock.mechanics.dampers.search.find import Screening
from tussock.mechanics.dampers.search.trial import Trial

SPEEDS = (0.13, 0.26, 0.52, 1.04)
TARGET = 70_000  # candidates a minute


def wanted(build: DamperBuild, lifts: LiftTables, share: float) -> tuple[WantedPoint, ...]:
    """Points at a build's own rebound forces."""
    force = np.abs(force_at(build, -np.array(SPEEDS)[::-1], lifts=lifts).hydraulic_force)[::-1]
    return tuple(
        WantedPoint(speed=s, force=float(f), least=float(f * (1 - share)), most=float(f * (1 + share)))
        for s, f in zip(SPEEDS, force, strict=True)
    )


def stock() -> tuple[ShelfDisc, ...]:
    """An invented shelf of 40 discs."""
    sizes = ((t, d) for t in (0.10, 0.15, 0.20, 0.25, 0.30) for d in (14, 16, 18, 20, 22, 24, 26, 28))
    return tuple(ShelfDisc(disc=one) for one in discs(*sizes))


def search_times(budget: int) -> None:
    """Print the search's rate, its ratio to the fine model and its miss."""
    lifts = LiftTables()
    stack = discs((0.20, 28), (0.20, 28), (0.20, 26), (0.20, 24), (0.20, 22), (0.20, 20), (0.20, 18), (0.30, 16))
    build = with_valve(mono(), "piston", "rebound", rebound(stack))
    # a target that three changes at least make, in bands that nothing meets: every candidate is screened
    target = discs((0.20, 28), (0.25, 28), (0.20, 26), (0.25, 22), (0.20, 22), (0.20, 20), (0.15, 18), (0.30, 16))
    want = wanted(with_valve(build, "piston", "rebound", rebound(target)), lifts, 1e-5)
    search(build, "piston", "rebound", want, stock()[:3], lifts=lifts, budget=50)  # compiles
    begin, cpu = time.perf_counter(), time.process_time()
    found = search(build, "piston", "rebound", want, stock(), lifts=lifts, budget=budget)
    wall, spent = time.perf_counter() - begin, time.process_time() - cpu
    rate = 60.0 * found.tried / spent
    levels = ", ".join(f"{one.tried:,} of {one.changes}" for one in found.levels)
    print(
        f"search of stacks of 6 to 10 discs, {found.tried:,} candidates ({levels} changes), {len(found.found)} of them "
        f"by the fine model: {spent:.1f} s of processor, {wall:.1f} s by the clock, {rate:,.0f} a minute "
        f"(target {TARGET:,})"
    )
    trial = Trial(build, "piston", "rebound", want, lifts=LiftTables())
    shelf = Shelf(present=trial.valve, stock=stock())
    screening = Screening(trial.place, shelf, want, trial.present(shelf).forces)
    first = shelf.level([shelf.order], {shelf.order: 0}, most=10_000)
    second = shelf.level(first[::40], {}, most=100_000)
    some = [second[i] for i in np.random.default_rng(4).permutation(len(second))[:60]]
    cpu = time.process_time()
    coarse = screening.forces(some)
    quick = (time.process_time() - cpu) / len(some)
    cpu = time.process_time()
    fine = np.array([trial.run(shelf, order, 2).forces for order in some])
    slow = (time.process_time() - cpu) / len(some)
    off = 100.0 * (coarse / fine - 1.0)
    print(
        f"one stack: {1e3 * quick:.2f} ms screened, {1e3 * slow:.1f} ms by the fine model in the whole damper = "
        f"{slow / quick:.0f} x; screened force against fine: mean {off.mean():+.2f} %, 95 % within "
        f"{np.percentile(np.abs(off), 95):.2f} %, worst {np.abs(off).max():.2f} %"
    )


def fit_times() -> None:
    """Print the calibration's and the production sample's time."""
    v = np.array([-1.04, -0.52, -0.26, -0.13, -0.05, 0.05, 0.13, 0.26, 0.52, 1.04])
    builds = (twin(), with_valve(twin(), "piston", "rebound", rebound(seat_height=0.10e-3)))
    hidden = Parameters(curtain_discharge=0.64, bleed_factor=1.1, seat_offset=0.012e-3, seal_friction=40.0)
    runs = [Observation(build=b, velocity=v, force=predict(b, v, parameters=hidden), sigma=6.0) for b in builds]
    cpu = time.process_time()
    calibrate(runs)
    print(f"calibration of 7 parameters on 2 builds from nothing: {time.process_time() - cpu:.1f} s of processor")
    cpu = time.process_time()
    found = force_bands(twin())
    print(
        f"bands of a twin-tube from {found.sample.shape[0]:,} dampers: {time.process_time() - cpu:.1f} s; the sum of "
        f"effects misses the whole model by {100.0 * found.misfit:.2f} % at most"
    )


def main() -> None:
    """Print the table."""
    search_times(int(sys.argv[1]) if len(sys.argv) > 1 else 20_000)
    fit_times()


if __name__ == "__main__":
    main()
