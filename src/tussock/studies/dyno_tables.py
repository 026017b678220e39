"""Tables of a dyno study: forces at the usual speeds, measured points, forces at rest, runs, differences, scatter."""

from __future__ import annotations

from collections.abc import Sequence

from tussock.mechanics.dampers import DynoTest
from tussock.mechanics.dampers.dyno_compare import COVERAGE, SPEEDS, UnitComparison, spread_of
from tussock.studies.result import Cell, Column, Table

_BAND_NOTE = "band: QC/T 491-1999, 1.2.2, from a public copy (14 % + 40 N rebound, 16 % + 40 N compression)"


def tables(tests: Sequence[DynoTest], comparisons: Sequence[tuple[str, UnitComparison]]) -> tuple[Table, ...]:
    """Return every table; those of differences and scatter only when there are any."""
    found = [_forces(tests)]
    titles = list(dict.fromkeys(title for title, _ in comparisons))
    for i, title in enumerate(titles):
        key = "differences" if i == 0 else f"differences_{i + 1}"
        found.append(_differences(key, title, [c for t, c in comparisons if t == title]))
    if len(tests) > 1:
        found.append(_spread(tests))
    return (*found, _rest(tests), _points(tests), _runs(tests))


def _forces(tests: Sequence[DynoTest]) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for test in tests:
        for direction, sign in (("rebound", -1.0), ("compression", 1.0)):
            beyond = [bool(test.curve.is_extrapolated(sign * v)) for v in SPEEDS]
            rows.append(
                (
                    test.name,
                    direction,
                    *(None if b else abs(test.curve.force_at(sign * v)) for v, b in zip(SPEEDS, beyond, strict=True)),
                )
            )
    return Table(
        key="forces",
        title="Force by speed, gas force and friction taken off",
        columns=(
            Column(key="unit", title="Unit"),
            Column(key="direction", title="Direction"),
            *(Column(key=f"at_{v:g}", title=f"{v:.2f} m/s", kind="force") for v in SPEEDS),
        ),
        rows=tuple(rows),
        note="0.13 to 1.04 m/s as QC/T 491-2018 recommends, read in a public restatement; empty beyond the runs",
    )


def _differences(key: str, title: str, comparisons: Sequence[UnitComparison]) -> Table:
    rows: list[tuple[Cell, ...]] = []
    strong: list[int] = []
    for comparison in comparisons:
        for d in comparison.differences:
            if not d.within_band:
                strong.append(len(rows))
            word = "within" if d.within_band else "outside"
            rows.append(
                (
                    comparison.name,
                    d.direction,
                    d.speed,
                    d.force,
                    d.reference,
                    d.difference,
                    d.share,
                    COVERAGE * d.error,
                    d.band,
                    word,
                )
            )
    return Table(
        key=key,
        title=f"Differences from {title}",
        columns=(
            Column(key="unit", title="Unit"),
            Column(key="direction", title="Direction"),
            Column(key="speed", title="Speed", kind="velocity"),
            Column(key="force", title="Force", kind="force"),
            Column(key="reference", title="Reference", kind="force"),
            Column(key="difference", title="Difference", kind="force", sign=True),
            Column(key="share", title="Share", kind="share", sign=True),
            Column(key="error", title="+- scatter", kind="force"),
            Column(key="band", title="+- band", kind="force"),
            Column(key="state", title="Band"),
        ),
        rows=tuple(rows),
        strong=tuple(strong),
        note=f"scatter: two standard errors, gas force and friction counted in; {_BAND_NOTE}",
    )


def _spread(tests: Sequence[DynoTest]) -> Table:
    return Table(
        key="spread",
        title="Scatter over the units",
        columns=(
            Column(key="direction", title="Direction"),
            Column(key="speed", title="Speed", kind="velocity"),
            Column(key="count", title="Units", kind="count"),
            Column(key="mean", title="Mean", kind="force"),
            Column(key="least", title="Least", kind="force"),
            Column(key="most", title="Most", kind="force"),
            Column(key="deviation", title="Standard deviation", kind="force"),
        ),
        rows=tuple((s.direction, s.speed, s.count, s.mean, s.least, s.most, s.deviation) for s in spread_of(tests)),
    )


def _rest(tests: Sequence[DynoTest]) -> Table:
    return Table(
        key="rest",
        title="Gas force and friction",
        columns=(
            Column(key="unit", title="Unit"),
            Column(key="gas", title="Gas force", kind="force", digits=1),
            Column(key="gas_error", title="+-", kind="force", digits=1),
            Column(key="friction", title="Friction", kind="force", digits=1),
            Column(key="friction_error", title="+-", kind="force", digits=1),
            Column(key="method", title="From"),
            Column(key="temperature", title="Temperature", kind="temperature"),
        ),
        rows=tuple(
            (
                t.name,
                t.rest.gas,
                t.rest.gas_error,
                t.rest.friction,
                t.rest.friction_error,
                t.rest.method,
                t.mean_temperature,
            )
            for t in tests
        ),
        note="+- one standard error; gas force at mid-stroke of the test, pushing the rod out",
    )


def _points(tests: Sequence[DynoTest]) -> Table:
    return Table(
        key="points",
        title="Measured points, velocity and force positive in compression",
        columns=(
            Column(key="unit", title="Unit"),
            Column(key="run", title="Run", kind="count"),
            Column(key="velocity", title="Velocity", kind="velocity", digits=3),
            Column(key="force", title="Force", kind="force", digits=1),
            Column(key="error", title="+-", kind="force", digits=1),
            Column(key="temperature", title="Temperature", kind="temperature", digits=1),
        ),
        rows=tuple((t.name, p.run, p.velocity, p.force, p.error, p.temperature) for t in tests for p in t.points),
        note="gas force and friction taken off; +- one standard error of the spread about the fit and between cycles",
    )


def _runs(tests: Sequence[DynoTest]) -> Table:
    return Table(
        key="runs",
        title="Runs",
        columns=(
            Column(key="unit", title="Unit"),
            Column(key="run", title="Run", kind="count"),
            Column(key="motion", title="Motion"),
            Column(key="stroke", title="Stroke", kind="length_fine"),
            Column(key="frequency", title="Frequency", kind="frequency", digits=3),
            Column(key="speed_in", title="Speed in", kind="velocity", digits=3),
            Column(key="speed_out", title="Speed out", kind="velocity", digits=3),
            Column(key="energy", title="Heat per cycle", kind="energy", digits=1),
            Column(key="stiffness", title="In phase with travel", kind="rate", digits=2),
            Column(key="temperature", title="Temperature", kind="temperature", digits=1),
            Column(key="rise", title="Rise", kind="temperature_rise"),
            Column(key="filter_change", title="Moved by the filter", kind="force", digits=1),
        ),
        rows=tuple(
            (
                t.name,
                r.number,
                r.motion,
                r.stroke,
                r.frequency,
                r.speed_in,
                r.speed_out,
                r.energy,
                r.stiffness,
                r.mean_temperature,
                r.temperature_rise,
                r.filter_change if t.cutoff is not None else None,
            )
            for t in tests
            for r in t.runs
        ),
        note="in phase with travel: gas spring, and what opens the loop; rise: last tenth of the run less the first",
    )
