"""Compile every kernel once, so that the studies start warm; the machine code stays on disk.

``python -m tussock.studies.compile`` does it from the shell and says how long each part took.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from importlib.resources import as_file, files

import numpy as np


def compile_all(say: Callable[[str], object]) -> tuple[tuple[str, float], ...]:
    """Run each compiled part once on the packaged demo.

    Parameters
    ----------
    say : callable
        Told the name of each part before it is compiled.

    Returns
    -------
    tuple of (str, float)
        Name and seconds of each part; a fraction of a second when the code was on disk.
    """
    from tussock.mechanics.dampers.search import WantedPoint, search
    from tussock.mechanics.motion import simulate
    from tussock.mechanics.roads import Section, build
    from tussock.record import load
    from tussock.studies import damper_builds, model, valving_search
    from tussock.studies.job import KERB, STOCK, Job, Setup

    with as_file(files("tussock").joinpath("data/tarn")) as folder:
        job = Job(load(folder / "programme.yaml"))
    kerb = Setup(fitout=KERB, build=STOCK)

    def linkage() -> None:
        model.axle(job, "front", stock=True).solve(np.array([0.0, 0.01]), np.array([0.0, 0.01]))

    def motion() -> None:
        road = build(Section(name="level", length=12.0, speed=10.0), track=1.5, seed=0)
        simulate(model.vehicle(job, kerb), road, speed=10.0, rest=model.rest(job, kerb))

    name, damper = next((n, d) for n, d in job.programme.kit.dampers.items() if damper_builds.is_buildable(d))

    def dampers() -> None:
        damper_builds.computed_curve(job, damper, name)

    def finder() -> None:
        build = damper_builds.build_of(job, damper, name)
        want = [WantedPoint(speed=0.5, force=1e3, least=950.0, most=1050.0)]
        search(
            build, "piston", "rebound", want, valving_search.shelf(job), lifts=damper_builds.lifts(job), most_changes=1,
            budget=100, verify=1,
        )  # fmt: skip

    took: list[tuple[str, float]] = []
    for part, run in (
        ("the linkage solver", linkage), ("the vehicle's motion", motion), ("disc stacks and their flow", dampers),
        ("the search for stacks", finder),
    ):  # fmt: skip
        say(part)
        began = time.perf_counter()
        run()
        took.append((part, time.perf_counter() - began))
    return tuple(took)


def main() -> None:
    """Compile and say how long it took."""
    for name, seconds in compile_all(lambda name: print(f"compiling {name} ...", flush=True)):
        print(f"{name}: {seconds:.1f} s")


if __name__ == "__main__":
    main()
