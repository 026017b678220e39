"""Pictures of a dyno study: force over velocity with scatter and band, differences, force-displacement loops."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from tussock.mechanics.dampers import DynoTest, ForceCurve, production_band
from tussock.mechanics.dampers.dyno_compare import COVERAGE, curve_of
from tussock.mechanics.dampers.sine_run import stroke_forces
from tussock.studies.result import Axis, Band, Line, LineChart, Mark, Picture

_VELOCITY = Axis(title="velocity, compression positive", kind="velocity")
_FORCE = Axis(title="force", kind="force")
_MOST_LOOPS = 3  # units whose loops are drawn; more say nothing new


class _Held(Protocol):
    @property
    def title(self) -> str: ...

    @property
    def unit(self) -> DynoTest | ForceCurve: ...


def pictures(tests: Sequence[DynoTest], references: Sequence[_Held]) -> tuple[Picture, ...]:
    """Return force over velocity, differences from the reference or else scatter, and the first units' loops."""
    found: list[Picture] = [_force_velocity(tests, references)]
    if references:
        found.append(_differences(tests, references[0]))
    else:
        found.append(_scatter(tests[0]))
    return (*found, *(_loops(t) for t in tests[:_MOST_LOOPS]))


def _grid(curve: ForceCurve, points: int = 161) -> np.ndarray:
    low, high = curve.measured_range
    return np.unique(np.concatenate([np.linspace(low, high, points), [0.0]]))


def _floats(values: np.ndarray) -> tuple[float, ...]:
    return tuple(float(v) for v in values)


def _band(velocity: np.ndarray, centre: np.ndarray) -> np.ndarray:
    """Return the permitted deviation at each point [N]."""
    return np.array(
        [
            production_band(abs(f), "compression" if v > 0.0 else "rebound")
            for v, f in zip(velocity, centre, strict=True)
        ]
    )


def _force_velocity(tests: Sequence[DynoTest], references: Sequence[_Held]) -> LineChart:
    bands: list[Band] = []
    lines: list[Line] = []
    own = {id(t) for t in tests}
    for i, held in enumerate(references):
        curve = curve_of(held.unit)
        v = _grid(curve)
        f = curve.at(v)
        if i == 0:
            wide = _band(v, f)
            bands.append(
                Band(label="production band", x=_floats(v), low=_floats(f - wide), high=_floats(f + wide), role="stock")
            )
        if id(held.unit) not in own:
            lines.append(Line(label=held.title, x=_floats(v), y=_floats(f), role="stock" if i == 0 else "target"))
    for test in tests:
        v = _grid(test.curve)
        f = test.curve.at(v)
        if len(tests) == 1:
            error = COVERAGE * np.array([test.error_at(x) for x in v])
            bands.append(
                Band(
                    label="scatter, 2 errors",
                    x=_floats(v),
                    low=_floats(f - error),
                    high=_floats(f + error),
                    role="build",
                )
            )
        lines.append(Line(label=test.name, x=_floats(v), y=_floats(f), marked=False))
        points = test.points
        x, y = tuple(p.velocity for p in points), tuple(p.force for p in points)
        lines.append(Line(label=test.name, x=x, y=y, dots=True))
    return LineChart(
        key="force_velocity",
        title="Force over velocity, gas force and friction taken off",
        x=_VELOCITY,
        y=_FORCE,
        lines=tuple(lines),
        bands=tuple(bands),
    )


def _differences(tests: Sequence[DynoTest], held: _Held) -> LineChart:
    """Return how far each unit lies from the reference, on a scale that shows the scatter."""
    curve = curve_of(held.unit)
    v = _grid(curve)
    wide = _band(v, curve.at(v))
    lines: list[Line] = []
    bands = [Band(label="production band", x=_floats(v), low=_floats(-wide), high=_floats(wide), role="stock")]
    for test in tests:
        if test is held.unit:
            continue
        points = [p for p in test.points if not bool(curve.is_extrapolated(p.velocity))]
        if not points:
            continue
        x = np.array([p.velocity for p in points])
        apart = np.array([p.force for p in points]) - curve.at(x)
        lines.append(Line(label=test.name, x=_floats(x), y=_floats(apart)))
        for p, at in zip(points, apart, strict=True):
            error = COVERAGE * test.error_at(p.velocity)
            lines.append(
                Line(label="", x=(p.velocity, p.velocity), y=(float(at) - error, float(at) + error), role="plain")
            )
    return LineChart(
        key="differences",
        title=f"Difference from {held.title}, with two standard errors",
        x=_VELOCITY,
        y=Axis(title="difference, compression positive", kind="force"),
        lines=tuple(lines),
        bands=tuple(bands),
    )


def _scatter(test: DynoTest) -> LineChart:
    """Return how far the single strokes lie from the curve, on a scale that shows it."""
    v = _grid(test.curve)
    error = COVERAGE * np.array([test.error_at(x) for x in v])
    x: list[float] = []
    y: list[float] = []
    for run in test.moving:
        for sign, speed in ((1.0, run.speed_in), (-1.0, run.speed_out)):
            for force in stroke_forces(run, int(sign)):
                x.append(sign * speed)
                y.append(force - sign * test.curve.friction - test.curve.force_at(sign * speed))
    return LineChart(
        key="scatter",
        title="Single strokes less the curve, with two standard errors of the curve",
        x=_VELOCITY,
        y=Axis(title="difference, compression positive", kind="force"),
        lines=(Line(label="one stroke", x=tuple(x), y=tuple(y), dots=True),),
        bands=(Band(label="curve, 2 errors", x=_floats(v), low=_floats(-error), high=_floats(error), role="stock"),),
    )


def _loops(test: DynoTest) -> LineChart:
    """Return one closed loop for each run, named at its peak, gas force left in."""
    lines: list[Line] = []
    marks: list[Mark] = []
    # names stand at different places along the way out, so that each has room beside its loop
    places = np.linspace(0.7, -0.5, len(test.runs))
    for run, place in zip(sorted(test.runs, key=lambda r: r.peak_velocity), places, strict=True):
        x, f = run.loop()
        lines.append(Line(label="", x=_floats(x), y=_floats(f), marked=False))
        middle = np.argsort(np.abs(x - place * run.amplitude))[:6]  # both strokes pass it; the way out has less force
        at = int(middle[np.argmin(f[middle])])
        digits = 3 if run.peak_velocity < 0.02 else 2
        marks.append(Mark(text=f"{run.peak_velocity:.{digits}f} m/s", x=float(x[at]), y=float(f[at])))
    return LineChart(
        key=f"loops {test.name}",
        title=f"{test.name}: force over displacement, gas force and friction inside",
        x=Axis(title="displacement from mid-stroke, rod in positive", kind="length"),
        y=_FORCE,
        lines=tuple(lines),
        marks=tuple(marks),
    )
