"""Invented dampers on an invented dyno: sweeps whose truth is known, for the dyno tests."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tussock.mechanics.dampers import ForceCurve, synthesise

SPEEDS = (0.05, 0.13, 0.26, 0.52, 1.05)
TRUE = ForceCurve.from_points(
    speeds=SPEEDS,
    compression=(105, 235, 375, 555, 920),
    rebound=(240, 600, 920, 1310, 2020),
    gas_force=110.0,
    friction=34.0,
    name="front B",
)


def sine_text(curve: ForceCurve = TRUE, **change: object) -> str:
    """Sine sweeps at `SPEEDS` after a slow run; 120 samples in each of 1.5 cycles, noise of 4 N, seed 5."""
    options: dict[str, object] = {
        "speeds": (0.005, *SPEEDS),
        "stroke": 0.1,
        "seed": 5,
        "cycles": 1.5,
        "samples_per_cycle": 120,
    }
    return synthesise(curve, **(options | change))  # type: ignore[arg-type]


def steady_text(
    curve: ForceCurve = TRUE,
    *,
    speeds_in: Sequence[float],
    speeds_out: Sequence[float] | None = None,
    ramp: float = 0.0,
    pause: float = 0.0,
    stroke: float = 0.1,
    cycles: float = 2.3,
    samples_per_cycle: int = 400,
    noise: float = 4.0,
    gas_rate: float = 0.0,
    seed: int = 1,
) -> str:
    """Sweeps at constant velocity, made by summing velocities so that the reader's own shape is not used to test it."""
    rng = np.random.default_rng(seed)
    rows, clock = ["run, time [s], displacement [mm], force [N]"], 0.0
    for number, (going_in, going_out) in enumerate(zip(speeds_in, speeds_out or speeds_in, strict=True), start=1):
        times = [stroke / v / (1.0 - ramp) for v in (going_in, going_out)]
        period = sum(times) / (1.0 - 2.0 * pause)
        fine = 20
        t = (np.arange(int(samples_per_cycle * cycles * fine)) + 0.5) * period / samples_per_cycle / fine
        turn = (t + 0.37 * times[0]) % period
        way_out = turn - times[0] - pause * period
        v = np.zeros_like(t)
        for begun, long, speed in ((turn, times[0], going_in), (way_out, times[1], -going_out)):
            part = begun / long
            near = np.minimum(part, 1.0 - part)
            v += np.where((part > 0.0) & (part < 1.0), speed * np.minimum(near / max(ramp, 1e-9), 1.0), 0.0)
        step = period / samples_per_cycle / fine
        x = -0.5 * stroke + 0.37 * stroke + np.cumsum(v) * step  # the start is not told to the reader
        kept = slice(fine - 1, None, fine)
        force = curve.at(v[kept]) + curve.gas_force + gas_rate * x[kept] + curve.friction * np.tanh(v[kept] / 1e-4)
        force += rng.normal(0.0, noise, force.size)
        shown = x[kept] + rng.normal(0.0, 2e-5, force.size)
        rows += [
            f"{number}, {clock + a:.6f}, {b * 1e3:.3f}, {c:.1f}" for a, b, c in zip(t[kept], shown, force, strict=True)
        ]
        clock += float(t[-1]) + 1.0
    return "\n".join(rows) + "\n"


def columns(text: str) -> list[list[str]]:
    """The cells of a text, header first."""
    return [[c.strip() for c in line.split(",")] for line in text.splitlines()]


def rebuild(rows: Sequence[Sequence[str]], delimiter: str = ", ") -> str:
    """The text of cells."""
    return "\n".join(delimiter.join(r) for r in rows) + "\n"


def numbers(text: str) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Run, time [s], displacement [mm] and force [N] of a text with those columns."""
    table = np.array([[float(c) for c in row] for row in columns(text)[1:]])
    return table[:, 0], table[:, 1], table[:, 2], table[:, 3]


def as_text(run: np.ndarray, time: np.ndarray, move: np.ndarray, force: np.ndarray) -> str:
    """The text of columns, as `numbers` gives them."""
    rows = ["run, time [s], displacement [mm], force [N]"]
    rows += [f"{a:g}, {b:.6f}, {c:.3f}, {d:.2f}" for a, b, c, d in zip(run, time, move, force, strict=True)]
    return "\n".join(rows) + "\n"
