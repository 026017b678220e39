"""Batch: do the dampers of a batch pass their dyno bands, and is the process capable?"""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError, InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers import production_band
from tussock.mechanics.dampers.capability import capability
from tussock.mechanics.dampers.production import BatchVerdict, batch_verdict
from tussock.record.units import parse
from tussock.studies import build_sheet
from tussock.studies.display import show
from tussock.studies.job import Job
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Notice, Result, Table

QUESTION = "Does the batch pass its dyno bands, and is the process capable?"
#: A process is called capable from this Cpk on [-] (common practice; e-Handbook 6.1.6 names 1.33, from memory).
CAPABLE = 1.33
_HARDLY_NORMAL = 0.05
_EXAMPLE = "serial,-0.52 m/s,-0.13 m/s,0.13 m/s,0.52 m/s"


@dataclass(frozen=True, kw_only=True, eq=False)
class Measured:
    """A batch as measured: serials, velocities [m/s] rising, forces (n, V) [N], friction in, gas force off, signed."""

    serials: tuple[str, ...]
    velocity: Floats
    forces: Floats


def read_batch(text: str, *, name: str) -> Measured:
    """Read a batch from comma-separated text: the first column names the damper, the others are velocities.

    Raises
    ------
    InputError
        With file and line of what cannot be read.
    """
    rows = [(i, row) for i, row in enumerate(csv.reader(io.StringIO(text)), 1) if any(cell.strip() for cell in row)]
    if len(rows) < 3:
        raise InputError(
            f"{name}: {max(len(rows) - 1, 0)} dampers; a heading such as {_EXAMPLE} and two at least are needed"
        )
    _, head = rows[0]
    if len(head) < 2:
        raise InputError(f"{name}, line {rows[0][0]}: no velocities in the heading; it wants {_EXAMPLE}")
    velocity = np.array(
        [float(parse(c.strip().replace("\N{MINUS SIGN}", "-"), "speed", example="-0.52 m/s")) for c in head[1:]]
    )
    order = np.argsort(velocity)
    if np.any(np.diff(velocity[order]) <= 0.0) or np.any(velocity == 0.0):
        raise InputError(f"{name}, line {rows[0][0]}: a velocity stands twice or is 0")
    serials, forces = [], []
    for line, row in rows[1:]:
        if len(row) != len(head):
            raise InputError(f"{name}, line {line}: {len(row)} cells, the heading has {len(head)}")
        values = []
        for cell, title in zip(row[1:], head[1:], strict=True):
            try:
                value = float(cell.replace("\N{MINUS SIGN}", "-"))
            except ValueError:
                value = math.nan
            if not math.isfinite(value):
                raise InputError(
                    f"{name}, line {line}, {title.strip()}: {cell.strip()!r} is no force in N, such as -812"
                )
            values.append(value)
        serials.append(row[0].strip())
        forces.append(values)
    return Measured(serials=tuple(serials), velocity=velocity[order], forces=np.array(forces)[:, order])


def study(job: Job, damper: str, text: str, *, name: str = "batch") -> Result:
    """Judge a batch of one damper of the kit against its acceptance bands.

    Parameters
    ----------
    job : Job
    damper : str
        Of the kit.
    text : str
        The batch, see `read_batch`.
    name : str
        Of the file, for messages.

    Returns
    -------
    Result
        Passes when every damper lies inside every band.

    Raises
    ------
    InputError
        If the batch cannot be read, or the damper has no valves.
    """
    batch = read_batch(text, name=name)
    speeds = tuple(sorted({round(abs(float(v)), 6) for v in batch.velocity}))
    bands = build_sheet.acceptance(job, damper, speeds)
    at = [int(np.argmin(np.abs(bands.velocity - v))) for v in batch.velocity]
    try:
        verdict = batch_verdict(
            batch.serials, batch.forces, velocity=batch.velocity, least=bands.least[at], most=bands.most[at]
        )
    except DomainError as error:
        raise InputError(f"{name}: {error}") from None
    return Result(
        stage="batch",
        question=QUESTION,
        answer=_answer(damper, verdict),
        passes=verdict.passing == len(verdict.dampers),
        provenance=job.provenance(seed=bands.bands.seed),
        notices=_notices(verdict),
        pictures=(_picture(damper, batch, bands, at),),
        tables=(_capability_table(verdict, batch, bands.rated[at]), _dampers_table(verdict, batch)),
        inputs={"damper": damper, "file": name, "dampers": str(len(batch.serials))},
        values={
            "passing": float(verdict.passing),
            "cpk": verdict.capability[verdict.governing].cpk,
        },
    )


def _direction(v: float) -> str:
    return "rebound" if v < 0.0 else "compression"


def _answer(damper: str, verdict: BatchVerdict) -> str:
    i = verdict.governing
    worst, v = verdict.capability[i], float(verdict.velocity[i])
    low, high = worst.cpk_interval
    sure = show(worst.confidence, "share", digits=0)
    return (
        f"{verdict.passing} of {len(verdict.dampers)} {damper} pass; the least Cpk is {worst.cpk:.2f} "
        f"({low:.2f} to {high:.2f} at {sure}), in {_direction(v)} at {show(abs(v), 'velocity')}."
    )


def _notices(verdict: BatchVerdict) -> tuple[Notice, ...]:
    out = []
    failing = [one for one in verdict.dampers if not one.passes]
    if failing:
        named = ", ".join(one.serial for one in failing[:10]) + (" and more" if len(failing) > 10 else "")
        out.append(
            Notice(
                text=f"{'A damper fails' if len(failing) == 1 else f'{len(failing)} dampers fail'}: {named}",
                remedy="open it and measure discs and seat before the rest goes out",
            )
        )
    odd = [i for i, one in enumerate(verdict.capability) if one.normal < _HARDLY_NORMAL]
    if odd:
        speeds = ", ".join(show(float(verdict.velocity[i]), "velocity", sign=True) for i in odd)
        out.append(
            Notice(
                text=f"At {speeds} the forces are hardly normal: Cp and Cpk mislead there",
                remedy="look for a damper far from the others, two lots of strip or two setters in one batch",
            )
        )
    return tuple(out)


def _capability_table(verdict: BatchVerdict, batch: Measured, rated: Floats) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for i, (v, one) in enumerate(zip(verdict.velocity, verdict.capability, strict=True)):
        size = abs(float(rated[i]))
        wide = production_band(size, "rebound" if v < 0.0 else "compression")
        standard = capability(np.abs(batch.forces[:, i]), least=size - wide, most=size + wide)
        if one.cpk_interval[0] >= CAPABLE:
            word = "capable"
        elif one.cpk_interval[1] < CAPABLE:
            word = "not capable"
        else:
            word = "not shown by so few"
        rows.append(
            (
                _direction(float(v)), abs(float(v)), one.mean, one.sigma, one.least, one.most, one.cp, one.cpk,
                f"{one.cpk_interval[0]:.2f} to {one.cpk_interval[1]:.2f}", one.outside, word, standard.cpk,
            )
        )  # fmt: skip
    return Table(
        key="capability",
        title="Process capability",
        columns=(
            Column(key="direction", title="Direction"),
            Column(key="speed", title="Speed", kind="velocity"),
            Column(key="mean", title="Mean", kind="force"),
            Column(key="sigma", title="Standard deviation", kind="force"),
            Column(key="least", title="Band from", kind="force"),
            Column(key="most", title="to", kind="force"),
            Column(key="cp", title="Cp", kind="ratio"),
            Column(key="cpk", title="Cpk", kind="ratio"),
            Column(key="interval", title="Cpk, 95 %"),
            Column(key="outside", title="Expected outside", kind="share", digits=2),
            Column(key="word", title=f"At {CAPABLE}"),
            Column(key="cpk_standard", title="Cpk in the QC/T band", kind="ratio"),
        ),
        rows=tuple(rows),
        strong=(verdict.governing,),
        note="a process that keeps its tolerances has Cp 1 in its own band; NIST/SEMATECH e-Handbook of Statistical "
        "Methods, 6.1.6; interval of Cpk after Bissell 1990; QC/T 491-1999, 1.2.2",
    )


def _dampers_table(verdict: BatchVerdict, batch: Measured) -> Table:
    return Table(
        key="dampers",
        title="Dampers",
        columns=(
            Column(key="serial", title="Serial"),
            Column(key="verdict", title="Verdict"),
            *(
                Column(key=f"at_{v:g}", title=show(float(v), "velocity", sign=True), kind="force")
                for v in batch.velocity
            ),
        ),
        rows=tuple(
            (one.serial, "passes" if one.passes else "fails", *(float(f) for f in row))
            for one, row in zip(verdict.dampers, batch.forces, strict=True)
        ),
        strong=tuple(i for i, one in enumerate(verdict.dampers) if not one.passes),
    )


def _picture(damper: str, batch: Measured, bands: build_sheet.Acceptance, at: list[int]) -> LineChart:
    x = tuple(map(float, batch.velocity))
    middle = bands.rated[at]
    # firmer is upwards in both strokes
    spots = [(v, float(f / m - 1.0)) for row in batch.forces for v, f, m in zip(x, row, middle, strict=True)]

    def edge(label: str, force: Floats) -> Line:
        share = force[at] / middle - 1.0
        return Line(label=label, x=x, y=tuple(map(float, share)), role="plain")

    return LineChart(
        key="batch",
        title=f"{damper}: batch beside its bands",
        x=Axis(title="speed, compression positive", kind="velocity"),
        y=Axis(title="force beside rated, firmer upwards", kind="share"),
        lines=(
            edge("firmest", np.where(bands.velocity < 0.0, bands.least, bands.most)),
            edge("softest", np.where(bands.velocity < 0.0, bands.most, bands.least)),
            Line(
                label="dampers",
                x=tuple(v for v, _ in spots),
                y=tuple(s for _, s in spots),
                role="build",
                dots=True,
            ),
        ),
    )
