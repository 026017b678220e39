"""Running panels: every method on every panel, one line each in a file that can be gone on with."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from panel.advised import Advised, emulator_of
from panel.builds import Build
from panel.claims import Claimer, Claims
from panel.nominal import Nominal, read
from panel.players import SOFT, Player, Random, Stepper, grouped, one_at_a_time
from panel.truth import Panel
from panel.world import Scene, open_scene
from tussock.mechanics.tuning import Emulator

CLEAR = 0.5
"""How much better a build must be heard to be for 'clearly better'; set beforehand, not tuned."""
LOOKS = (10, 20, 40)
"""Drives after which the adviser's claims are held against the truth."""


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What is run: drives of each method, size of the model error, noise of the drivers."""

    drives: int = 40
    longer: int = 80
    error: float = 0.5
    noise: str = "middle"

    def drives_of(self, method: str) -> int:
        """Return how many drives a method gets: baselines have more than the adviser."""
        return self.drives if method == "adviser" else max(self.drives, self.longer)


_EMULATORS: dict[int, Emulator] = {}


def _emulator(nominal: Nominal) -> Emulator:
    if id(nominal) not in _EMULATORS:
        _EMULATORS[id(nominal)] = emulator_of(nominal)
    return _EMULATORS[id(nominal)]


Maker = Callable[[Panel, Nominal, int], Player]


METHODS: Mapping[str, Maker] = {
    "adviser": lambda p, n, d: Advised(_emulator(n)),
    "stepping from soft": lambda p, n, d: Stepper(SOFT, one_at_a_time, bar=0.0),
    "stepping from simulation": lambda p, n, d: Stepper(n.optimum(), one_at_a_time, bar=0.0),
    "grouped from soft, if better": lambda p, n, d: Stepper(SOFT, grouped, bar=0.0),
    "grouped from soft, if clearly": lambda p, n, d: Stepper(SOFT, grouped, bar=CLEAR),
    "grouped from simulation, if clearly": lambda p, n, d: Stepper(n.optimum(), grouped, bar=CLEAR),
    "random": lambda p, n, d: Random(d),
}


def play(panel: Panel, player: Player, drives: int) -> tuple[list[Build], list[Claims]]:
    """Return what a method would release after every drive, and what the adviser claimed at its looks."""
    drive = panel.session()
    released, claims = [], []
    for number in range(1, drives + 1):
        build, reference = player.ask()
        player.tell(drive(build, reference))
        released.append(player.released)
        if isinstance(player, Claimer) and number in LOOKS:
            claims.append(player.claims(panel.random_builds[:30], number))
    return released, claims


def run_panel(
    scene: Scene, nominal: Nominal, seed: int, methods: Sequence[str], asked: Asked, folder: Path | None = None
) -> list[dict[str, object]]:
    """Return one line for each method on one panel."""
    panel = Panel(scene, nominal, seed, error=asked.error, noise=asked.noise, folder=folder)
    begun = time.process_time()
    scales = panel.scales()
    played, unsettled = {}, {}
    for method in methods:
        start = time.process_time()
        drives = asked.drives_of(method)
        player = METHODS[method](panel, nominal, drives)
        released, claims = play(panel, player, drives)
        unsettled[method] = getattr(player, "unsettled", 0)
        played[method] = (released, claims, time.process_time() - start)
    lines = []
    for method, (released, claims, seconds) in played.items():
        truth = dict(zip(dict.fromkeys(released), map(float, panel.true(list(dict.fromkeys(released)))), strict=True))
        lines.append({
            "seed": seed, "method": method, "error": asked.error, "noise": asked.noise,
            "best": scales.best, "median": scales.median, "soft": scales.soft, "drivers": panel.drivers,
            "utility": [round(truth[b], 5) for b in released],
            "claims": [c.against(panel) for c in claims],
                "unsettled": unsettled[method],
            "seconds": round(seconds, 2), "whole": round(time.process_time() - begun, 2),
        })  # fmt: skip
    panel.keep()
    return lines


_COMMON: dict[str, tuple[Scene, Nominal]] = {}


def _common(folder: str) -> tuple[Scene, Nominal]:
    if folder not in _COMMON:
        scene = open_scene()
        _COMMON[folder] = (scene, read(scene, Path(folder)))
    return _COMMON[folder]


def _one(folder: str, seed: int, methods: Sequence[str], asked: Asked) -> list[dict[str, object]]:
    return run_panel(*_common(folder), seed, methods, asked, Path(folder))


def done(file: Path) -> set[tuple[object, ...]]:
    """Return which panel and method a file holds, by seed, method, error and noise; a cut last line counts for none."""
    found = set()
    for line in lines_of(file):
        found.add((line["seed"], line["method"], line["error"], line["noise"]))
    return found


def lines_of(file: Path) -> list[dict[str, object]]:
    """Return the whole lines of a file."""
    if not file.exists():
        return []
    out = []
    for text in file.read_text(encoding="utf-8").splitlines():
        try:
            out.append(json.loads(text))
        except json.JSONDecodeError:
            continue  # a run that was stopped while it wrote; the panel is run again
    return out


def run(
    file: Path, seeds: Sequence[int], methods: Sequence[str], asked: Asked, *, folder: Path, processes: int
) -> None:
    """Run what the file lacks and append it, panel by panel."""
    had = done(file)
    ahead = {s: [m for m in methods if (s, m, asked.error, asked.noise) not in had] for s in seeds}
    ahead = {s: left for s, left in ahead.items() if left}
    if not ahead:
        return
    _common(str(folder))  # computed once, then read by the others
    # processes share the work; threads within them would fight over the cores, and are counted when NumPy is loaded
    os.environ.update(dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1"))
    begun = time.monotonic()
    with file.open("a", encoding="utf-8") as out, ProcessPoolExecutor(processes, get_context("spawn")) as pool:
        runs = [pool.submit(_one, str(folder), seed, left, asked) for seed, left in ahead.items()]
        for count, one in enumerate(as_completed(runs), 1):
            out.write("".join(json.dumps(line) + "\n" for line in one.result()))
            out.flush()
            print(f"{count} of {len(ahead)} panels, {time.monotonic() - begun:.0f} s", flush=True)


def regret(line: Mapping[str, object], *, soft: bool = False) -> np.ndarray:
    """Return regret after every drive, over best less median random build, or best less softest build."""
    best, base = float(line["best"]), float(line["soft" if soft else "median"])  # type: ignore[arg-type]
    return (best - np.array(line["utility"])) / (best - base)
