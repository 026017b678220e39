"""The table: regret, who arrives when, pairs of methods with intervals, and what the adviser's claims were worth."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from scipy.stats import bootstrap

from panel.run import LOOKS, METHODS, regret
from tussock.mechanics.tuning import PreferencePrior, VerdictScale

NEVER = 10**6
FELT = PreferencePrior().noise * VerdictScale().slight
"""Difference in utility from which on the adviser's model takes a driver to say 'better' as often as not [-]."""
_EQUAL = 1e-9
_NEAR = (0.05, 0.10, 0.20)
Lines = Mapping[str, Mapping[int, Mapping[str, object]]]


def sorted_lines(lines: Sequence[Mapping[str, object]], *, error: float, noise: str) -> Lines:
    """Return lines of one kind of panel by method and seed.

    The best of a panel is the best build that anything found there, the search or a method.
    """
    lines = [line for line in lines if line["error"] == error and line["noise"] == noise]
    best: dict[object, float] = {}
    for line in lines:
        top = max(float(line["best"]), *line["utility"])  # type: ignore[arg-type, misc]
        best[line["seed"]] = max(top, best.get(line["seed"], top))
    out: dict[str, dict[int, Mapping[str, object]]] = {name: {} for name in METHODS}
    for line in lines:
        told = {**line, "best": best[line["seed"]]}
        out[str(line["method"])][int(line["seed"])] = told  # type: ignore[call-overload]
    return {name: own for name, own in out.items() if own}


def arrival(course: np.ndarray, bound: float) -> int:
    """Return the first of 3 drives running at or below a bound; `NEVER` if there are none."""
    below = course <= bound
    three = below[:-2] & below[1:-1] & below[2:]
    return int(np.argmax(three)) + 1 if three.any() else NEVER


def _spread(values: np.ndarray) -> str:
    low, middle, high = np.quantile(values, (0.1, 0.5, 0.9))
    return f"{middle:.3f} ({low:.2f}-{high:.2f})"


def _at(course: Mapping[int, np.ndarray], drive: int) -> np.ndarray | None:
    if any(len(c) < drive for c in course.values()):
        return None
    return np.array([c[drive - 1] for c in course.values()])


def write(lines: Lines, *, drives: int) -> Iterator[str]:
    """Yield the table line by line."""
    counts = {name: len(own) for name, own in lines.items()}
    yield f"panels: {', '.join(f'{name} {n}' for name, n in counts.items())}"
    for soft in (False, True):
        scale = "soft start .. best" if soft else "median random safe build .. best"
        courses = {m: {s: regret(line, soft=soft) for s, line in own.items()} for m, own in lines.items()}
        yield f"\nscale {scale}: regret, median (10-90 %)"
        looks = sorted({1, 10, 20, 40, 80, drives})
        yield f"  {'method':36}" + "".join(f"{f'at {d}':>20}" for d in looks)
        for method, course in courses.items():
            cells = (_at(course, d) for d in looks)
            yield f"  {method:36}" + "".join(f"{'-' if c is None else _spread(c):>20}" for c in cells)
        yield f"  share of panels within 5 / 10 / 20 % at drive {drives}; first of 3 running (median, reached)"
        for method, course in courses.items():
            last = _at(course, drives)
            share = "-" if last is None else " / ".join(f"{np.mean(last <= b):.0%}" for b in _NEAR)
            yield f"  {method:36}{share:>20}   " + "; ".join(_arrived(course, b) for b in _NEAR)
        yield from _pairs(courses, drives)
    yield from _worse(lines, drives)
    yield from _claims(lines)


def _arrived(course: Mapping[int, np.ndarray], bound: float) -> str:
    first = np.array([arrival(c, bound) for c in course.values()])
    middle = float(np.median(first))
    words = "not reached" if middle >= NEVER else f"{middle:.0f}"
    return f"{bound:.0%}: {words} ({np.mean(first < NEVER):.0%})"


def _pairs(courses: Mapping[str, Mapping[int, np.ndarray]], drives: int) -> Iterator[str]:
    if "adviser" not in courses:
        return
    yield "  regret less the adviser's, paired, own drives v its: mean (95 % bootstrap), share not below 0"
    own = courses["adviser"]
    for method, course in courses.items():
        if method == "adviser":
            continue
        both = sorted(set(own) & set(course))
        cells = []
        for mine, theirs in ((10, 10), (drives // 2, drives // 2), (drives, drives), (10, 20), (drives // 2, drives),
                             (drives, 2 * drives)):  # fmt: skip
            if not both or min(len(own[s]) for s in both) < mine or min(len(course[s]) for s in both) < theirs:
                continue
            gap = np.array([course[s][theirs - 1] - own[s][mine - 1] for s in both])
            cells.append(f"{mine} v {theirs}: {_interval(gap)}, {np.mean(gap >= 0.0):.0%}")
        yield f"  {method:36}{'; '.join(cells)}"


def _interval(gap: np.ndarray) -> str:
    if len(gap) < 5 or np.ptp(gap) == 0.0:
        return f"{gap.mean():+.3f}"
    found = bootstrap((gap,), np.mean, n_resamples=2000, method="percentile", rng=np.random.default_rng(0))
    low, high = found.confidence_interval
    return f"{gap.mean():+.3f} ({low:+.3f} to {high:+.3f})"


def _worse(lines: Lines, drives: int) -> Iterator[str]:
    yield f"\nend worse than they started, at drive 10 / 20 / {drives}: share, by how much (median of those, best less"
    yield f"median random build is 1), share worse by more than {FELT:.2f} in utility, which a driver just hears"
    for method, own in lines.items():
        cells = []
        for d in (10, 20, drives):
            if any(len(line["utility"]) < d for line in own.values()):  # type: ignore[arg-type]
                continue
            lost, scaled = lost_since_start(list(own.values()), d)
            size = f"{np.median(scaled[lost > 0.0]):.3f}" if np.any(lost > 0.0) else "-"
            cells.append(f"{np.mean(lost > 0.0):.1%}, {size}, {np.mean(lost > FELT):.1%}")
        yield f"  {method:36}{' / '.join(cells)}"


def lost_since_start(lines: Sequence[Mapping[str, object]], drive: int) -> tuple[np.ndarray, np.ndarray]:
    """Return by how much what is handed over after a drive is worse than the first build, in utility and scaled; or 0.

    The scale is that from the median random safe build to the best.
    """
    told = np.array([[u[0], u[drive - 1]] for u in (line["utility"] for line in lines)])  # type: ignore[index]
    lost = told[:, 0] - told[:, 1]
    lost = np.where(lost > _EQUAL, lost, 0.0)
    return lost, lost / np.array([float(line["best"]) - float(line["median"]) for line in lines])  # type: ignore[arg-type]


def _claims(lines: Lines) -> Iterator[str]:
    told = [c for line in lines.get("adviser", {}).values() for c in line["claims"]]  # type: ignore[attr-defined]
    if not told:
        return
    yield "\nthe adviser's claims: share of 90 % intervals that hold the true difference, far and near builds"
    for look in LOOKS:
        at = [c for c in told if c["drive"] == look]
        if at:
            shares = (
                f"{name} {np.mean([hit for c in at for hit in c[name]]):.1%} of {sum(len(c[name]) for c in at)}"
                for name in ("far", "near")
            )
            yield f"  after {look} drives: {', '.join(shares)}"
    chances = np.array([pair for c in told for pair in c["chances"]], dtype=float)
    yield "  stated probability that a build beats the incumbent, against how often it does"
    for low in np.arange(0.0, 1.0, 0.1):
        inside = (chances[:, 0] >= low) & ((chances[:, 0] < low + 0.1) | (low > 0.85))
        if inside.any():
            yield f"  {low:.1f}-{low + 0.1:.1f}: {chances[inside, 1].mean():.2f} of {int(inside.sum())}"
    unsure = [c for c in told if c["unsure"]]
    yield f"  'not enough evidence' at {len(unsure)} of {len(told)} looks"
    for name, some in (("said", unsure), ("not said", [c for c in told if not c["unsure"]])):
        known = [c["beats"] for c in some if c["beats"] is not None]
        if known:
            yield f"    {name}: the proposal truly beats the incumbent in {np.mean(known):.0%} of {len(known)}"
    seconds = [line["seconds"] / len(line["utility"]) for line in lines["adviser"].values()]  # type: ignore[operator, arg-type]
    yield f"  fit, proposal and drive: {np.mean(seconds):.2f} s a drive, worst panel {np.max(seconds):.2f} s"
    missed = sum(int(line["unsettled"]) for line in lines["adviser"].values())  # type: ignore[call-overload]
    yield f"  fits that did not settle and were begun again: {missed}"
