"""Valving: what do the dampers of each build do, and does that suit the vehicle?"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from tussock.mechanics.dampers import ForceCurve, compare, damping_ratio, production_band
from tussock.studies import damper_heat, damper_inside, damper_loop, damper_sheet, model, parts
from tussock.studies.display import show
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Notice, Result, Table

QUESTION = "What do the dampers do, and does that suit the vehicle?"
SPEEDS = (0.05, 0.13, 0.26, 0.52, 1.04)  # speeds of the tables [m/s]; 0.13 to 1.04 as QC/T 491-2018 recommends
HOP_AT = 0.52  # the axle's own motion is faster [m/s]; common practice, no source
JUDGED = 0.26  # the body's own motion is damped at about this speed [m/s]; common practice, no source


def ratio_at(job: Job, setup: Setup, end: str, speed: float) -> float:
    """Return the damping ratio of an axle's body mode at a damper speed [-], both directions' mean."""
    return damping_ratio(
        damping=parts.fitted(job, setup, end).curve.mean_damping(speed),
        motion_ratio=model.damper_ratio(job, setup, end),
        wheel_rate=model.wheel_rate(job, setup, end),
        sprung_mass=parts.sprung_corner(job, setup.fitout, end),
    )


def hop_ratio_at(job: Job, setup: Setup, end: str, speed: float) -> float:
    """Return the damping ratio of an axle's wheel hop at a damper speed [-], both directions' mean.

    The axle between tyres and springs, the body standing still: what a corner's unsprung mass does.
    """
    tyre = float(job.programme.vehicle.tyre.vertical_stiffness)
    return damping_ratio(
        damping=parts.fitted(job, setup, end).curve.mean_damping(speed),
        motion_ratio=model.damper_ratio(job, setup, end),
        wheel_rate=model.wheel_rate(job, setup, end) + tyre,
        sprung_mass=0.5 * parts.axle_mass(job, end).mass,
    )


def study(job: Job, *, fitout: str | None = None, build: str | None = None) -> Result:
    """Return force curves, ratios and energy of every build's dampers, and judge one build in every fit-out.

    Parameters
    ----------
    job : Job
        The programme.
    fitout, build : str, optional
        Fit-out that the answer speaks of, and the build judged; the first and the last unless said.

    Returns
    -------
    Result
        Passes when the judged build's damping ratio lies within the targets in every fit-out.
    """
    setup = job.setup(fitout, build)
    window = job.programme.targets.damping_ratio
    least, most = float(window.least), float(window.most)
    notices: list[Notice] = []
    passes = True
    for name, record in job.programme.fitouts.items():
        here = Setup(fitout=name, build=setup.build)
        for end in ENDS:
            got = ratio_at(job, here, end, JUDGED)
            if not least <= got <= most:
                passes = False
                wanted = (least if got < least else most) / got - 1.0
                notices.append(
                    Notice(
                        text=f"{record.title}, {end}: damped at {show(got, 'ratio')} of critical, outside "
                        f"{show(least, 'ratio')} to {show(most, 'ratio')}",
                        remedy=f"{show(abs(wanted), 'share', digits=0)} {'more' if wanted > 0 else 'less'} force "
                        f"around {show(JUDGED, 'velocity')}",
                    )
                )
    insides = damper_inside.with_valves(job, setup)
    notices += [
        *damper_inside.notices(job, setup),
        *damper_sheet.shortages(job, setup),
        *damper_heat.notices(job, setup),
    ]
    heat_picture, loop_picture = damper_heat.picture(job, setup), damper_loop.picture(job, setup)
    return Result(
        stage="dampers",
        question=QUESTION,
        answer=_answer(job, setup),
        passes=passes,
        provenance=job.provenance(setup),
        notices=tuple(notices),
        pictures=(
            *(_picture(job, setup.fitout, end) for end in ENDS),
            *damper_inside.pictures(job, setup),
            *(p for p in (heat_picture, loop_picture) if p is not None),
        ),
        tables=(
            *(_force_table(job, end) for end in ENDS),
            *damper_inside.changes_tables(job),
            damper_inside.slopes_table(job, setup),
            _shape_table(job),
            _ratio_table(job),
            _sheet_table(job, setup),
            *(_inside_tables(job, setup) if insides else ()),
        ),
        inputs={
            "targets.damping_ratio": f"{window.least} to {window.most}",
            **_sources(job, setup),
        },
        values={
            **{f"{end}_damping_ratio": ratio_at(job, setup, end, JUDGED) for end in ENDS},
            **{f"{h.end}_oil_K": h.warm.hottest for h in damper_heat.heats(job, setup)},
        },
    )


def _inside_tables(job: Job, setup: Setup) -> tuple[Table, ...]:
    """Return what only dampers with known valves have."""
    return (
        damper_sheet.stacks_table(job, setup),
        damper_inside.parts_table(job, setup),
        damper_inside.against_measured(job),
        damper_heat.table(job, setup),
        damper_heat.larger_body(job, setup),
        damper_loop.table(job, setup),
    )


def _sources(job: Job, setup: Setup) -> dict[str, str]:
    """Return where the curves of the dampers that the setup wears come from, by their fields."""
    out: dict[str, str] = {}
    for end in ENDS:
        name, damper = parts.damper_choice(job, setup, end)
        at = f"vehicle.axles.{end}.damper" if name == STOCK else f"kit.dampers.{name}"
        source = parts.curve_source(damper)
        if source == "dyno":
            out[f"{at}.dyno"] = str(damper.dyno)
        elif source == "points":
            out[f"{at}.curve"] = f"{len(damper.curve)} rated points"
        else:
            out[f"{end} damper"] = f"{name}, computed from its valves"
    return out


def _answer(job: Job, setup: Setup) -> str:
    stock = Setup(fitout=KERB, build=STOCK)
    name = "Stock" if setup.stock else setup.build
    front, rear = (ratio_at(job, setup, e, JUDGED) for e in ENDS)
    was = ratio_at(job, stock, "front", JUDGED)
    curve = parts.fitted(job, setup, "front").curve
    ratios = [ratio_at(job, Setup(fitout=f, build=setup.build), e, JUDGED) for f in job.programme.fitouts for e in ENDS]
    return (
        f"{name} damps the body at {show(front, 'ratio')} of critical in front and {show(rear, 'ratio')} behind "
        f"(stock {show(was, 'ratio')} in front), {show(min(ratios), 'ratio')} to {show(max(ratios), 'ratio')} over all "
        f"fit-outs, with front rebound {show(curve.ratio(0.52), 'ratio', digits=1)} times compression at 0.52 m/s"
        f"{_hottest(job, setup)}."
    )


def _hottest(job: Job, setup: Setup) -> str:
    every = damper_heat.heats(job, setup)
    if not every:
        return ""
    worst = max(every, key=lambda h: h.warm.hottest)
    return (
        f"; the {worst.end} oil reaches {show(worst.warm.hottest, 'temperature')} in "
        f"{show(damper_heat.DURATION, 'minutes')} of {worst.section}"
    )


def _builds(job: Job, end: str) -> list[tuple[str, Any, ForceCurve]]:
    """Return (build or stock, damper name, curve) of an axle."""
    out: list[tuple[str, Any, ForceCurve]] = []
    for build in (STOCK, *job.programme.builds):
        name, damper = parts.damper_choice(job, Setup(fitout=KERB, build=build), end)
        out.append((build, name, job.curve(damper)))
    return out


def _force_table(job: Job, end: str) -> Table:
    every = _builds(job, end)
    stock = every[0][2]
    rows: list[tuple[Cell, ...]] = []
    for build, name, curve in every:
        change = compare(curve, stock, list(SPEEDS))
        for direction, sign, against in (("rebound", -1.0, change.rebound), ("compression", 1.0, change.compression)):
            at = SPEEDS.index(0.52)
            rows.append(
                (
                    build,
                    name,
                    direction,
                    *(abs(curve.force_at(sign * v)) for v in SPEEDS),
                    float(against[at]) if build != STOCK else None,
                )
            )
    return Table(
        key=f"{end}_forces",
        title=f"{end.capitalize()}: force by speed, gas and friction taken off",
        columns=(
            Column(key="build", title="Build"),
            Column(key="damper", title="Damper"),
            Column(key="direction", title="Direction"),
            *(Column(key=f"at_{v:g}", title=f"{v:.2f} m/s", kind="force") for v in SPEEDS),
            Column(key="against", title="Over stock at 0.52", kind="share", digits=0, sign=True),
        ),
        rows=tuple(rows),
    )


def _shape_table(job: Job) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for end in ENDS:
        for build, name, curve in _builds(job, end):
            rows.append(
                (
                    end,
                    build,
                    name,
                    curve.ratio(0.13),
                    curve.ratio(0.52),
                    curve.gas_force,
                    curve.friction,
                    curve.energy_per_cycle(amplitude=0.05, frequency=100.0 / 60.0),
                    _scatter(job, end, build),
                )
            )
    return Table(
        key="shape",
        title="Shape of the curves",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="build", title="Build"),
            Column(key="damper", title="Damper"),
            Column(key="ratio_low", title="Rebound : compression at 0.13", kind="ratio"),
            Column(key="ratio_high", title="at 0.52 m/s", kind="ratio"),
            Column(key="gas", title="Gas force", kind="force"),
            Column(key="friction", title="Friction", kind="force"),
            Column(key="energy", title="Heat per cycle, 100 mm at 100/min", kind="energy"),
            Column(key="scatter", title="Dyno scatter", kind="force"),
        ),
        rows=tuple(rows),
        note="100 mm stroke at 100 per minute is the force test of QC/T 545-1999, 0.52 m/s",
    )


def _scatter(job: Job, end: str, build: str) -> float | None:
    _, damper = parts.damper_choice(job, Setup(fitout=KERB, build=build), end)
    return job.dyno_tests[damper.dyno].scatter if damper.dyno else None


def _ratio_table(job: Job) -> Table:
    rows: list[tuple[Cell, ...]] = []
    kerb = Setup(fitout=KERB, build=STOCK)
    for end in ENDS:
        hop = hop_ratio_at(job, kerb, end, HOP_AT)
        rows.append((STOCK, "Kerb", end, *(ratio_at(job, kerb, end, v) for v in SPEEDS), hop))
    for build in job.programme.builds:
        for fitout, record in job.programme.fitouts.items():
            for end in ENDS:
                setup = Setup(fitout=fitout, build=build)
                hop = hop_ratio_at(job, setup, end, HOP_AT)
                rows.append((build, record.title, end, *(ratio_at(job, setup, end, v) for v in SPEEDS), hop))
    judged = 3 + SPEEDS.index(JUDGED)
    window = job.programme.targets.damping_ratio
    return Table(
        key="damping_ratios",
        title="Damping ratio of the body by damper speed, and of the wheel hop",
        columns=(
            Column(key="build", title="Build"),
            Column(key="fitout", title="Fit-out"),
            Column(key="axle", title="Axle"),
            *(Column(key=f"at_{v:g}", title=f"{v:.2f} m/s", kind="ratio") for v in SPEEDS),
            Column(key="wheel_hop", title=f"Wheel hop at {HOP_AT:.2f}", kind="ratio"),
        ),
        rows=tuple(rows),
        strong=tuple(
            i
            for i, row in enumerate(rows)
            if not float(window.least) <= float(row[judged] or math.nan) <= float(window.most)
        ),
        note=f"judged at {JUDGED:.2f} m/s; mean of both directions",
    )


def _sheet_table(job: Job, setup: Setup) -> Table:
    """Return the build sheet: rated forces with their production bands."""
    rows: list[tuple[Cell, ...]] = []
    for end in ENDS:
        fitted = parts.fitted(job, setup, end)
        for v in SPEEDS[1:]:
            rebound, compression = -fitted.curve.force_at(-v), fitted.curve.force_at(v)
            rows.append(
                (
                    end,
                    fitted.damper_name,
                    v,
                    rebound,
                    production_band(rebound, "rebound"),
                    compression,
                    production_band(compression, "compression"),
                )
            )
    return Table(
        key="build_sheet",
        title=f"Build sheet of {'stock' if setup.stock else setup.build}: rated force and production band",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="damper", title="Damper"),
            Column(key="speed", title="Speed", kind="velocity"),
            Column(key="rebound", title="Rebound", kind="force"),
            Column(key="rebound_band", title="+-", kind="force"),
            Column(key="compression", title="Compression", kind="force"),
            Column(key="compression_band", title="+-", kind="force"),
        ),
        rows=tuple(rows),
        note="bands: QC/T 491-1999, 1.2.2, from a public copy (14 % + 40 N rebound, 16 % + 40 N compression)",
    )


def _picture(job: Job, fitout: str, end: str) -> LineChart:
    grid = np.linspace(-1.1, 1.1, 111)
    return LineChart(
        key=f"{end}_curves",
        title=f"{end.capitalize()} dampers: force over speed",
        x=Axis(title="speed, compression positive", kind="velocity"),
        y=Axis(title="force", kind="force"),
        lines=tuple(
            Line(
                label=build,
                x=tuple(map(float, grid)),
                y=tuple(map(float, curve.at(grid))),
                role="stock" if build == STOCK else "build",
            )
            for build, _, curve in _builds(job, end)
        ),
    )
