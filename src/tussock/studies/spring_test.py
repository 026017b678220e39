"""A spring on the tester: what is it, and is it what was ordered?"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import Any

import numpy as np

import tussock
from tussock.errors import InputError
from tussock.mechanics.springs import (
    Estimate,
    Finding,
    LoadPoint,
    MeasuredSpring,
    Specification,
    compare,
    measure,
    read_spring_test,
)
from tussock.studies.display import show
from tussock.studies.job import ENDS, Job
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Mark, Notice, Provenance, Result, Table
from tussock.studies.spring_laws import spring_law

QUESTION = "What is this spring, and is it what was ordered?"
_KINDS = {"rate": "rate", "free length": "length_fine", "load": "force"}
_MOST_DOTS = 200


def study(
    text: str, name: str, *, job: Job | None = None, spring: str | None = None, free_length: float | None = None
) -> Result:
    """Return rate, friction and free length of a measured spring, and hold them against an order.

    Parameters
    ----------
    text, name : str
        Content of the tester's file, and what it is called.
    job : Job, optional
        Programme that holds the order.
    spring : str, optional
        Which spring of it: a name in the kit, or front or rear for the vehicle's own.
    free_length : float, optional
        Measured apart [m], for a file of deflections.

    Returns
    -------
    Result
        Passes when nothing of the order is proven to lie outside its tolerance.

    Raises
    ------
    InputError
        For a file that cannot be used, or a spring that the programme does not have.
    """
    order = None if job is None else specification(job, spring)
    measured = measure(read_spring_test(text, name), free_length=free_length)
    findings = compare(measured, order) if order is not None else ()
    outside = [f for f in findings if f.verdict == "outside"]
    return Result(
        stage="spring",
        question=QUESTION,
        answer=_answer(measured, order, findings),
        passes=not outside,
        provenance=Provenance(
            programme=job.provenance().programme if job is not None else "none",
            digest=hashlib.sha256(text.encode()).hexdigest(),
            tussock=tussock.__version__,
            data=name,
        ),
        notices=tuple(_notices(measured, order, findings)),
        pictures=(_load_picture(measured, order), _rate_picture(measured, order)),
        tables=(*((_order_table(order, findings),) if order is not None else ()), _rate_table(measured)),
        inputs={"file": name, "against": "nothing" if order is None else order.title},
        values={
            "rate_N_per_m": measured.rate.value,
            "rate_half_width_N_per_m": measured.rate.half_width,
            **({"friction_N": measured.friction.value} if measured.friction is not None else {}),
            **({"free_length_m": measured.free_length.value} if measured.free_length is not None else {}),
        },
    )


def specification(job: Job, spring: str | None) -> Specification:
    """Return the order of a spring of the programme; its +- are the tolerances.

    Raises
    ------
    InputError
        For a spring that is not there, or is a torsion bar; says which there are.
    """
    record: Any
    springs = job.programme.kit.springs
    if spring in ENDS:
        record = job.programme.vehicle.axles[spring].spring
    elif spring in springs:
        record = springs[spring]  # type: ignore[index]
    else:
        said = "which spring it is must be said" if spring is None else f"there is no spring {spring!r}"
        raise InputError(f"{said}; the programme has {', '.join(springs)}, and front and rear for the vehicle's own")
    law = spring_law(record)
    if law.kind == "torsion_bar":
        raise InputError(f"{spring} is a torsion bar; a file of loads over lengths says nothing about it")
    tolerance = getattr(record, "load_tolerance", None)
    return Specification(
        title=record.title,
        rate=law.rate,
        free_length=law.free_length,
        rate_tolerance=law.rate_spread,
        free_length_tolerance=law.free_length_spread,
        loads=tuple(LoadPoint(length=p.at, load=p.force) for p in getattr(record, "loads", ())),
        load_tolerance=float(tolerance) if tolerance is not None else 0.0,
    )


def with_spread(figure: Estimate, kind: str) -> str:
    """Return a figure with its half-width in words.

    >>> with_spread(Estimate(value=24.12e3, low=24.05e3, high=24.19e3), "rate")
    '24.12 N/mm ± 0.07 N/mm'
    """
    digits = {"rate": 2, "length_fine": 1, "force": 0}[kind]
    return f"{show(figure.value, kind, digits=digits)} ± {show(figure.half_width, kind, digits=digits)}"


def _answer(measured: MeasuredSpring, order: Specification | None, findings: Sequence[Finding]) -> str:
    text = f"Its rate is {with_spread(measured.rate, 'rate')}"
    if measured.progressive:
        text += f", rising by {show(measured.rate_change, 'share', digits=0)} over the stroke"
    if measured.friction is not None:
        text += f", with {show(measured.friction.value, 'force')} of friction each way"
    if order is None:
        return f"{text}."
    outside = [_what(f) for f in findings if f.verdict == "outside"]
    unproven = [_what(f) for f in findings if f.verdict == "not proven"]
    if outside:
        return f"{text}; it is not the {order.title} that was ordered: {_listed(outside)} outside tolerance."
    if unproven:
        return f"{text}; for the {order.title}, {_listed(unproven)} not proven to lie within tolerance."
    return f"{text}; all {len(findings)} figures of the order for the {order.title} are kept."


def _listed(words: Sequence[str]) -> str:
    joined = words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]
    return f"{joined} {'is' if len(words) == 1 else 'are'}"


def _what(finding: Finding) -> str:
    return f"the load at {show(finding.length, 'length')}" if finding.what == "load" else f"the {finding.what}"


def _notices(measured: MeasuredSpring, order: Specification | None, findings: Sequence[Finding]) -> list[Notice]:
    out: list[Notice] = []
    for f in findings:
        kind = _KINDS[f.what]
        wanted = f"{show(f.wanted, kind)} within {show(f.tolerance, kind)}"
        if f.verdict != "within":
            said = "lies outside" if f.verdict == "outside" else "may lie outside"
            what = _what(f)
            out.append(
                Notice(
                    text=f"{what[:1].upper()}{what[1:]} is {with_spread(f.measured, kind)}, which {said} {wanted}",
                    remedy="send it back, or agree the deviation"
                    if f.verdict == "outside"
                    else "measure more cycles, or with a better cell, before deciding",
                )
            )
    if any(not f.stated for f in findings):
        out.append(
            Notice(
                text="Not every figure of the order states a tolerance: an order of magnitude from memory stands in",
                remedy="write the agreed tolerance behind +- in the programme",
            )
        )
    if measured.friction is None:
        out.append(
            Notice(
                text="The file has no unloading stroke, so friction is in the loads and its amount is not known",
                remedy="record the way back too",
            )
        )
    if measured.cycles < 3:
        out.append(
            Notice(
                text=f"{measured.cycles} cycle{'s' if measured.cycles > 1 else ''}: the confidence comes from the "
                "samples alone",
                remedy="record three cycles or more",
            )
        )
    if order is not None and not measured.lengths_measured:
        out.append(
            Notice(
                text="The file has deflections only, so the free length is not checked",
                remedy="record the length between the seats",
            )
        )
    return out


def _order_table(order: Specification, findings: Sequence[Finding]) -> Table:
    # one table for each kind of number would be three tables of a row; the figures are written out instead
    rows: list[tuple[Cell, ...]] = []
    for f in findings:
        kind = _KINDS[f.what]
        digits = {"rate": 2, "length_fine": 1, "force": 0}[kind]
        what = f"load at {show(f.length, 'length')}" if f.what == "load" else f.what
        rows.append(
            (
                what,
                with_spread(f.measured, kind),
                f"{show(f.wanted, kind, digits=digits)} ± {show(f.tolerance, kind, digits=digits)}",
                show(f.measured.value - f.wanted, kind, digits=digits, sign=True),
                "stated" if f.stated else "from memory",
                f.verdict,
            )
        )
    return Table(
        key="order",
        title=f"Against the order: {order.title}",
        columns=(
            Column(key="what", title="Figure"),
            Column(key="measured", title="Measured"),
            Column(key="wanted", title="Ordered"),
            Column(key="off", title="Off by"),
            Column(key="tolerance", title="Tolerance"),
            Column(key="verdict", title="Verdict"),
        ),
        rows=tuple(rows),
        strong=tuple(i for i, f in enumerate(findings) if f.verdict != "within"),
        note="± of what was measured is its 95 % confidence interval, the load cell's own error apart; within or "
        "outside is said only where the whole interval lies so (ISO 14253-1)",
    )


def _rate_table(measured: MeasuredSpring) -> Table:
    return Table(
        key="rate_along",
        title="Rate along the stroke",
        columns=(
            Column(key="deflection", title="Deflection", kind="length"),
            Column(key="load", title="Load", kind="force"),
            Column(key="rate", title="Rate", kind="rate", digits=2),
            Column(key="low", title="from", kind="rate", digits=2),
            Column(key="high", title="to", kind="rate", digits=2),
        ),
        rows=tuple((p.deflection, p.load, p.rate.value, p.rate.low, p.rate.high) for p in measured.local),
        note="load midway between loading and unloading; from and to are the 95 % confidence interval",
    )


def _load_picture(measured: MeasuredSpring, order: Specification | None) -> LineChart:
    """Return what a straight line leaves of the loads: on a plot of the loads themselves the loop would not be seen."""
    slope = measured.rate.value
    lines: list[Line] = []
    for loading, words in ((True, "loading"), (False, "unloading")):
        mine = [s for s in measured.strokes if s.loading == loading]
        if not mine:
            continue
        stroke = mine[0]
        seated = np.flatnonzero(stroke.deflection >= 0.0)
        every = seated[:: max(1, seated.size // _MOST_DOTS)]
        x, f = stroke.deflection[every], stroke.load[every]
        left = f - slope * x
        lines.append(
            Line(label=words, x=tuple(map(float, x)), y=tuple(map(float, left)), role="plain", dots=not loading)
        )
    x, f = measured.deflection, measured.load
    lines.append(Line(label="midway", x=tuple(map(float, x)), y=tuple(map(float, f - slope * x))))
    if order is not None:
        end = float(x[-1])
        lines.append(Line(label="ordered", x=(0.0, end), y=(0.0, (order.rate - slope) * end), role="target"))
    return LineChart(
        key="spring_load",
        title=f"Load less {show(slope, 'rate', digits=2)} times deflection, first cycle",
        x=Axis(title="deflection from free", kind="length"),
        y=Axis(title="load less that line", kind="force"),
        lines=tuple(lines),
    )


def _rate_picture(measured: MeasuredSpring, order: Specification | None) -> LineChart:
    at = tuple(p.deflection for p in measured.local)
    lines = [
        Line(label="rate", x=at, y=tuple(p.rate.value for p in measured.local)),
        Line(label="95 % from", x=at, y=tuple(p.rate.low for p in measured.local), role="plain"),
        Line(label="to", x=at, y=tuple(p.rate.high for p in measured.local), role="plain"),
    ]
    marks: tuple[Mark, ...] = ()
    if order is not None:
        marks = (Mark(text=f"ordered {show(order.rate, 'rate')}", y=order.rate, role="target"),)
    return LineChart(
        key="spring_rate",
        title="Rate along the stroke, friction apart",
        x=Axis(title="deflection from free", kind="length"),
        y=Axis(title="rate", kind="rate"),
        lines=tuple(lines),
        marks=marks,
    )
