"""The damper's loop at the stroke and frequency of the force test: hysteresis, gas force, friction."""

from __future__ import annotations

import math

import numpy as np

from tussock.errors import DomainError, InputError, SolverError
from tussock.mechanics.dampers.hydraulics import Loop, cycle
from tussock.studies import damper_builds as inside
from tussock.studies import damper_inside
from tussock.studies.display import show
from tussock.studies.job import Job, Setup
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Table

STROKE = 0.100  # the force test of QC/T 545-1999 [m]
FREQUENCY = 100.0 / 60.0  # [Hz]
PEAK = math.pi * STROKE * FREQUENCY  # greatest speed of that test [m/s]


def loops(job: Job, setup: Setup) -> tuple[tuple[str, str, Loop], ...]:
    """Return (end, name, settled loop) of the setup's dampers at the stroke and frequency of the force test."""
    key = ("damper loops", setup)
    if key not in job.memo:
        kelvin = float(job.programme.road_loop.oil_temperature)
        out = []
        for end, name, damper in damper_inside.with_valves(job, setup):
            try:
                got = cycle(
                    inside.assembled(job, damper, name),
                    amplitude=STROKE / 2.0,
                    frequency=FREQUENCY,
                    temperature=kelvin,
                    points=200,
                )
            except (DomainError, SolverError) as error:
                raise InputError(str(error)) from None
            out.append((end, name, got))
        job.memo[key] = tuple(out)
    found = job.memo[key]
    assert isinstance(found, tuple)
    return found


def table(job: Job, setup: Setup) -> Table:
    """Return gas force, friction, hysteresis and heat of the loops."""
    rows: list[tuple[Cell, ...]] = []
    for end, name, got in loops(job, setup):
        damper = inside.assembled(job, damper_inside.record_of(job, setup, name), name)
        rows.append(
            (
                end, name, float(np.max(got.force)), float(-np.min(got.force)), got.hysteresis, got.friction,
                damper.gas_force(), damper.gas_rate, got.heat,
            )
        )  # fmt: skip
    return Table(
        key="loops",
        title=f"Loop at {show(STROKE, 'length')} stroke and {show(FREQUENCY, 'frequency')}",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="damper", title="Damper"),
            Column(key="compression", title="Most in compression", kind="force"),
            Column(key="rebound", title="Most in rebound", kind="force"),
            Column(key="hysteresis", title="Hysteresis", kind="force"),
            Column(key="friction", title="Seal friction", kind="force"),
            Column(key="gas", title="Gas force", kind="force"),
            Column(key="gas_rate", title="Gas rate", kind="rate"),
            Column(key="heat", title="Heat per cycle", kind="energy"),
        ),
        rows=tuple(rows),
        note="with compressible oil and discs that lag; hysteresis is the widest gap between both passes of a speed, "
        "friction and gas taken off",
    )


def picture(job: Job, setup: Setup) -> LineChart | None:
    """Return the loops over speed, None where no valves are known."""
    every = loops(job, setup)
    if not every:
        return None
    _, name, got = every[0]
    record = damper_inside.record_of(job, setup, name)
    steady = damper_inside.flow(job, record, name, np.linspace(-PEAK, PEAK, 61))
    return LineChart(
        key="loop",
        title=f"{damper_inside.sentence(record.title)}: force over speed in a cycle, against steady flow",
        x=Axis(title="speed, compression positive", kind="velocity"),
        y=Axis(title="force with gas and friction", kind="force"),
        lines=(
            Line(label="steady", x=tuple(map(float, steady.velocity)), y=tuple(map(float, steady.force)), role="stock"),
            Line(label="cycle", x=tuple(map(float, got.velocity)), y=tuple(map(float, got.force))),
        ),
    )
