"""The log as tables: builds, drives, verdicts, marks, dyno runs, notes, corrections."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Any

from tussock.record.corrections import WORDS
from tussock.record.log import VERDICTS
from tussock.record.scales import SCALES
from tussock.studies.build_changes import change_words, tree
from tussock.studies.job import Job
from tussock.studies.log_entries import WHOLE_LOOP, comparisons, contradictions, drive_name
from tussock.studies.result import Cell, Column, Table

_SIGN = {word: (i > 2) - (i < 2) for i, word in enumerate(VERDICTS)}


def tables(job: Job) -> tuple[Table, ...]:
    """Return the log as tables, those that would be empty left out."""
    every = (
        build_table(job),
        drive_table(job),
        verdict_table(job),
        disagreement_table(job),
        _mark_table(job),
        _dyno_table(job),
        _note_table(job),
        _correction_table(job),
    )
    return tuple(t for t in every if t.rows)


def build_table(job: Job) -> Table:
    """Return the tree of builds with what each changed, who fitted it and when, and how often it was driven."""
    rows: list[tuple[Cell, ...]] = []
    for name, depth in tree(job):
        build = job.programme.builds[name]
        driven = sum(d.build == name for d in job.programme.drives)
        ran = sum(r.build == name for r in job.programme.dyno_runs)
        rows.append(
            (
                f"{'· ' * (depth - 1)}{name}",
                build.title,
                build.parent,
                "; ".join(change_words(job, name)) or "nothing differs",
                build.date or "",
                build.by or "",
                ran,
                driven,
                build.note,
            )
        )
    return Table(
        key="build_tree",
        title="Builds, each below the one that it was changed from",
        columns=(
            Column(key="build", title="Build"),
            Column(key="title", title="What"),
            Column(key="parent", title="From"),
            Column(key="changes", title="Changed"),
            Column(key="date", title="Fitted"),
            Column(key="by", title="By"),
            Column(key="dyno", title="Dyno runs", kind="count"),
            Column(key="drives", title="Drives", kind="count"),
            Column(key="note", title="Why"),
        ),
        rows=tuple(rows),
        note="what changed follows from what differs; discs as thickness x diameter in mm, counted from the seat",
    )


def drive_table(job: Job) -> Table:
    """Return every drive that counts, in the order of the log."""
    rows: list[tuple[Cell, ...]] = []
    for i, drive in enumerate(job.programme.drives):
        ways = [_SIGN[v.verdict] for v in drive.verdicts]
        pressure = drive.tyre_pressure
        rows.append(
            (
                drive_name(drive, i),
                drive.date,
                drive.driver,
                drive.build,
                drive.against or "",
                drive.fitout,
                drive.section or WHOLE_LOOP,
                drive.weather,
                f"{pressure.front}, {pressure.rear}" if pressure else "",
                f"{ways.count(1)} / {ways.count(0)} / {ways.count(-1)}" if ways else "",
                len(drive.ratings) or None,
                drive.note,
            )
        )
    return Table(
        key="drives",
        title="Drives",
        columns=(
            Column(key="drive", title="Drive"),
            Column(key="date", title="Date"),
            Column(key="driver", title="Driver"),
            Column(key="build", title="Build"),
            Column(key="against", title="Against"),
            Column(key="fitout", title="Fit-out"),
            Column(key="section", title="Where"),
            Column(key="weather", title="Weather"),
            Column(key="pressure", title="Tyres"),
            Column(key="verdicts", title="Better / same / worse"),
            Column(key="ratings", title="Marks", kind="count"),
            Column(key="note", title="What was felt"),
        ),
        rows=tuple(rows),
    )


def verdict_table(job: Job) -> Table:
    """Return how often a build was better, the same or worse than another, in each respect."""
    counts: dict[tuple[str, str, str], list[int]] = defaultdict(lambda: [0, 0, 0, 0])
    torn = {(c.first, c.second, c.attribute) for c in contradictions(job)}
    for c in comparisons(job):
        counts[c.build, c.against, c.attribute][1 - c.way] += 1
        counts[c.build, c.against, c.attribute][3] += abs(c.better) == 2
    rows: list[tuple[Cell, ...]] = [
        (
            build,
            against,
            SCALES[attribute].title,  # type: ignore[index]
            *found,
            "drives disagree" if {(build, against, attribute), (against, build, attribute)} & torn else "",
        )
        for (build, against, attribute), found in counts.items()
    ]
    return Table(
        key="verdicts",
        title="Verdicts, all sections together",
        columns=(
            Column(key="build", title="Build"),
            Column(key="against", title="Against"),
            Column(key="attribute", title="In what respect"),
            Column(key="better", title="Better", kind="count"),
            Column(key="same", title="Same", kind="count"),
            Column(key="worse", title="Worse", kind="count"),
            Column(key="clear", title="Of these clear", kind="count"),
            Column(key="torn", title="Note"),
        ),
        rows=tuple(rows),
        note="clear: much better or much worse",
    )


def disagreement_table(job: Job) -> Table:
    """Return where drives disagree which of two builds is better: evidence, not a fault."""
    return Table(
        key="disagreements",
        title="Where drives disagree",
        columns=(
            Column(key="pair", title="Builds"),
            Column(key="attribute", title="In what respect"),
            Column(key="section", title="Where"),
            Column(key="better", title="The first is better in"),
            Column(key="worse", title="Worse in"),
        ),
        rows=tuple(
            (
                f"{c.first}, {c.second}",
                SCALES[c.attribute].title,  # type: ignore[index]
                c.section,
                ", ".join(c.better),
                ", ".join(c.worse),
            )
            for c in contradictions(job)
        ),
        note="no fault: both count, and the windows widen; drive the pair once more, each build first once",
    )


def _mark_table(job: Job) -> Table:
    marks: dict[tuple[str, str], list[int]] = defaultdict(list)
    for drive in job.programme.drives:
        for rating in drive.ratings:
            marks[drive.build, rating.attribute].append(rating.mark)
    rows: list[tuple[Cell, ...]] = []
    for (build, attribute), found in sorted(marks.items()):
        mean = sum(found) / len(found)
        scale = SCALES[attribute]  # type: ignore[index]
        rows.append((build, scale.title, len(found), mean, min(found), max(found), scale.words(round(mean))))
    return Table(
        key="marks",
        title="Marks on the scale from 1 (worst) to 10 (best)",
        columns=(
            Column(key="build", title="Build"),
            Column(key="attribute", title="In what respect"),
            Column(key="count", title="Marks", kind="count"),
            Column(key="mean", title="Mean", kind="ratio", digits=1),
            Column(key="least", title="Least", kind="count"),
            Column(key="most", title="Most", kind="count"),
            Column(key="words", title="The mean mark in words"),
        ),
        rows=tuple(rows),
    )


def _dyno_table(job: Job) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for i, run in enumerate(job.programme.dyno_runs):
        curve = job.dyno_tests[run.dyno].curve
        forces = (curve.force_at(-0.26), curve.force_at(0.26))
        rows.append((run.id or f"dyno run {i + 1}", run.date, run.build, run.axle, run.unit or "", *forces, run.note))
    return Table(
        key="dyno_runs",
        title="Dyno runs",
        columns=(
            Column(key="run", title="Run"),
            Column(key="date", title="Date"),
            Column(key="build", title="Build"),
            Column(key="axle", title="Axle"),
            Column(key="unit", title="Unit"),
            Column(key="rebound", title="Rebound at 0.26 m/s", kind="force"),
            Column(key="compression", title="Compression at 0.26 m/s", kind="force"),
            Column(key="note", title="Note"),
        ),
        rows=tuple(rows),
        note="as measured, without gas force and friction",
    )


def _note_table(job: Job) -> Table:
    rows: list[tuple[Cell, ...]] = [
        (n.id or f"note {i + 1}", n.date, n.by, n.about or "", n.text, ", ".join(n.files))
        for i, n in enumerate(job.programme.notes)
    ]
    return Table(
        key="notes",
        title="Notes",
        columns=(
            Column(key="note", title="Note"),
            Column(key="date", title="Date"),
            Column(key="by", title="By"),
            Column(key="about", title="About"),
            Column(key="text", title="What there is to say"),
            Column(key="files", title="Files"),
        ),
        rows=tuple(rows),
    )


def _correction_table(job: Job) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for i, c in enumerate(job.programme.corrections):
        change = job.programme.changes.get(("corrections", i))
        counts = "withdrawn" if change is not None and change.withdrawn_by else "corrected" if change else "counts"
        said = "withdrawn" if c.withdrawn else "; ".join(_fields(c.fields))
        rows.append((c.id or f"correction {i + 1}", c.date, c.by, _target(job, c.corrects), said, c.why, counts))
    return Table(
        key="corrections",
        title="Corrections: the entries stay in the file as they were written",
        columns=(
            Column(key="correction", title="Correction"),
            Column(key="date", title="Date"),
            Column(key="by", title="By"),
            Column(key="corrects", title="Corrects"),
            Column(key="fields", title="Says instead"),
            Column(key="why", title="Why"),
            Column(key="counts", title="Now"),
        ),
        rows=tuple(rows),
    )


def _target(job: Job, name: str) -> str:
    programme = job.programme
    parts: Sequence[tuple[str, Any]] = (
        ("dyno_runs", programme.written_dyno_runs),
        ("drives", programme.written_drives),
        ("notes", programme.written_notes),
        ("decisions", programme.written_decisions),
        ("corrections", programme.corrections),
    )
    found = next((part for part, rows in parts if any(r.id == name for r in rows)), "builds")
    return f"{WORDS[found]} {name}"


def _fields(fields: Any) -> Iterator[str]:
    for key, value in fields.items():
        yield f"{key.replace('_', ' ')}: {_words(value)}"


def _words(value: Any) -> str:
    if value is None:
        return "left out"
    if isinstance(value, dict):
        return ", ".join(f"{k} {_words(v)}" for k, v in value.items())
    if isinstance(value, list | tuple):
        return "; ".join(_words(v) for v in value) or "none"
    return str(value)
