"""Tuning: which build balances comfort and control best, and what to build next?"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from tussock.studies import log, log_tables, loop, robust_draw, robust_shown, windows
from tussock.studies.adjusters import ADJUSTERS, Adjuster, adjusted, fittings
from tussock.studies.display import show
from tussock.studies.drive import change
from tussock.studies.job import STOCK, Job, Setup
from tussock.studies.loop import LoopIndex
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Mark, Notice, Result, Table

QUESTION = "Which build balances comfort and control best, and what do we build next?"
STEP = 0.15  # share by which an adjuster is firmed or softened to see what it does
DRAWN = 8  # vehicles drawn over production, fit-outs, pressures and oil; `tussock robust` draws more
WORTH = 0.005  # least gain of the balance that is worth a build


#: What the next build could change: force steps of one axle and direction.
TUNED: tuple[Adjuster, ...] = tuple(
    ADJUSTERS[key] for key in ("front_rebound", "front_compression", "rear_rebound", "rear_compression")
)


def balance(index: LoopIndex) -> float:
    """Return comfort and control as one figure, equal weight: their geometric mean; below 1 is better than stock."""
    return math.sqrt(index.comfort * index.control)


def build_indices(job: Job, fitout: str) -> Mapping[str, LoopIndex]:
    """Return every build's indices against stock on the loop in a fit-out, stock itself included."""
    reference = loop.drive_loop(job, Setup(fitout=fitout, build=STOCK))
    return {
        build: loop.loop_index(loop.drive_loop(job, Setup(fitout=fitout, build=build)), reference)
        for build in (STOCK, *job.programme.builds)
    }


def best_build(job: Job, fitout: str | None = None) -> str:
    """Return the build that balances best among those of the programme, stock apart."""
    setup = job.setup(fitout)
    found = build_indices(job, setup.fitout)
    return min((b for b in found if b != STOCK), key=lambda b: balance(found[b]))


@dataclass(frozen=True, kw_only=True)
class Trial:
    """One adjuster changed from the best build: what it does to comfort, control and their balance [-]."""

    adjuster: Adjuster
    factor: float
    comfort: float
    control: float
    balance: float


def trials(job: Job, setup: Setup) -> tuple[Trial, ...]:
    """Return what firming and softening each adjuster of a setup does on the loop, the best first."""
    reference = loop.drive_loop(job, Setup(fitout=setup.fitout, build=STOCK))
    here = loop.loop_index(loop.drive_loop(job, setup), reference)
    fitted = fittings(job, setup)
    out: list[Trial] = []
    for adjuster in TUNED:
        for factor in (1.0 - STEP, 1.0 + STEP):
            job.tell(f"driving {setup.build} with {adjuster.title} {'firmer' if factor > 1.0 else 'softer'}")
            runs = loop.drive_loop(job, setup, vehicle=adjusted(fitted, {adjuster.key: factor}))
            index = loop.loop_index(runs, reference)
            out.append(
                Trial(
                    adjuster=adjuster,
                    factor=factor,
                    comfort=index.comfort / here.comfort - 1.0,
                    control=index.control / here.control - 1.0,
                    balance=balance(index) / balance(here) - 1.0,
                )
            )
    return tuple(sorted(out, key=lambda t: t.balance))


def study(job: Job, *, fitout: str | None = None, build: str | None = None) -> Result:
    """Return the comparison of all builds on the loop and the next change worth building.

    Parameters
    ----------
    job : Job
        The programme.
    fitout : str, optional
        The first unless said.
    build : str, optional
        Build to go on from; the best balanced unless said.

    Returns
    -------
    Result
        Passes when the build meant is at least as well controlled as stock.
    """
    setup = job.setup(fitout, build)
    found = build_indices(job, setup.fitout)
    best = min((b for b in found if b != STOCK), key=lambda b: balance(found[b]))
    base = Setup(fitout=setup.fitout, build=best if build is None else setup.build)
    tried = trials(job, base)
    chosen = found[base.build]
    notices: list[Notice] = []
    if chosen.control > 1.0:
        notices.append(
            Notice(
                text=f"{base.build} is {change(chosen.control, 'better controlled', 'worse controlled')} than stock",
                remedy="firm up before release; comfort is no excuse for a wheel that leaves the ground",
            )
        )
    if len(job.programme.builds) < 3:
        notices.append(
            Notice(
                text=f"{len(job.programme.builds)} builds do not bracket an adjuster",
                remedy="drive one that is clearly too soft and one that is clearly too firm (common practice)",
            )
        )
    seed = job.programme.road_loop.seed
    felt = windows.windows(job, base)
    made = robust_draw.production(job, base)
    drawn = robust_draw.drawn(made, count=DRAWN, seed=1)
    held, of = drawn.better("control")
    preferred = log.most_preferred(job)
    driven = f" {preferred[:1].upper()}{preferred[1:]}." if preferred else ""
    return Result(
        stage="tuning",
        question=QUESTION,
        answer=f"{_answer(base, best, found, tried)} {robust_shown.few_words(drawn, made)}{driven}",
        passes=chosen.control <= 1.0,
        provenance=job.provenance(base, seed=seed),
        notices=tuple(notices),
        pictures=(_map(found, base, tried), *((windows.picture(felt, base),) if driven else ())),
        tables=(
            _build_table(job, found, best),
            _trial_table(tried),
            _section_table(job, base.build, found),
            robust_shown.drawn_table(drawn, made),
            *((windows.window_table(felt, driven=True),) if driven else ()),
            *log_tables.tables(job),
        ),
        inputs={
            "fit-out": base.fitout,
            "from": base.build,
            "step": show(STEP, "share", digits=0),
            "road_loop": f"{job.programme.road_loop.name}, seed {seed}",
            **loop.weights_words(job),
        },
        values={
            "best_build": best,
            **{f"{b}_comfort_index": i.comfort for b, i in found.items()},
            **{f"{b}_control_index": i.control for b, i in found.items()},
            "stays_better_controlled_share": held / of,
        },
    )


def _answer(base: Setup, best: str, found: Mapping[str, LoopIndex], tried: tuple[Trial, ...]) -> str:
    here = found[base.build]
    verb = "balances best" if base.build == best else "was asked for"
    text = (
        f"{base.build} {verb}: {change(here.comfort, 'more comfortable', 'less comfortable')} than stock and "
        f"{change(here.control, 'better controlled', 'worse controlled')}"
    )
    gain = tried[0]
    if gain.balance > -WORTH:
        return f"{text}; no single change of {show(STEP, 'share', digits=0)} would gain anything worth a build."
    way = "more" if gain.factor > 1.0 else "less"
    return (
        f"{text}; next try {show(STEP, 'share', digits=0)} {way} {gain.adjuster.title}: the simulation gives "
        f"{show(gain.comfort, 'share', sign=True)} discomfort and "
        f"{show(gain.control, 'share', sign=True)} loss of control."
    )


def _build_table(job: Job, found: Mapping[str, LoopIndex], best: str) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for build, index in found.items():
        record = None if build == STOCK else job.programme.builds[build]
        rows.append(
            (
                build,
                record.title if record else "as measured",
                record.parent if record else "",
                index.comfort,
                index.control,
                balance(index),
            )
        )
    return Table(
        key="builds",
        title="Builds on the house loop, against stock",
        columns=(
            Column(key="build", title="Build"),
            Column(key="title", title="What"),
            Column(key="parent", title="From"),
            Column(key="comfort", title="Discomfort", kind="ratio", digits=3),
            Column(key="control", title="Loss of control", kind="ratio", digits=3),
            Column(key="balance", title="Balance", kind="ratio", digits=3),
        ),
        rows=tuple(rows),
        strong=(list(found).index(best),),
        note="below 1 is better than stock; balance is the geometric mean of both",
    )


def _trial_table(tried: tuple[Trial, ...]) -> Table:
    return Table(
        key="next",
        title="What one change would do",
        columns=(
            Column(key="adjuster", title="Adjuster"),
            Column(key="by", title="Force", kind="share", digits=0, sign=True),
            Column(key="comfort", title="Discomfort", kind="share", sign=True),
            Column(key="control", title="Loss of control", kind="share", sign=True),
            Column(key="balance", title="Balance", kind="share", sign=True),
        ),
        rows=tuple((t.adjuster.title, t.factor - 1.0, t.comfort, t.control, t.balance) for t in tried),
        strong=(0,) if tried and tried[0].balance < -WORTH else (),
        note="simulated on the same roads; a drive decides",
    )


def _section_table(job: Job, build: str, found: Mapping[str, LoopIndex]) -> Table:
    """Return the sections of a build and of those that it was changed from; all others stand in the table of builds."""
    names = list(next(iter(found.values())).by_section)
    line = build
    own = {STOCK}
    while line != STOCK:
        own.add(line)
        line = job.programme.builds[line].parent
    builds = [b for b in found if b in own and b != STOCK]
    rows: list[tuple[Cell, ...]] = [(name, *(v for b in builds for v in found[b].by_section[name])) for name in names]
    return Table(
        key="sections",
        title="By section, discomfort and loss of control over stock",
        columns=(
            Column(key="section", title="Section"),
            *(
                Column(key=f"{b}_{k}", title=f"{b} {t}", kind="ratio")
                for b in builds
                for k, t in (("comfort", "discomfort"), ("control", "loss of control"))
            ),
        ),
        rows=tuple(rows),
    )


def _map(found: Mapping[str, LoopIndex], base: Setup, tried: tuple[Trial, ...]) -> LineChart:
    lines = [
        Line(
            label=build,
            x=(index.comfort,),
            y=(index.control,),
            dots=True,
            role="stock" if build == STOCK else "build",
        )
        for build, index in found.items()
    ]
    marks: tuple[Mark, ...] = ()
    if tried and tried[0].balance < -WORTH:
        here, gain = found[base.build], tried[0]
        marks = (
            Mark(
                text=f"next: {'more' if gain.factor > 1 else 'less'} {gain.adjuster.title}",
                x=here.comfort * (1.0 + gain.comfort),
                y=here.control * (1.0 + gain.control),
                role="target",
            ),
        )
    return LineChart(
        key="comfort_control",
        title="Builds on the house loop: left is more comfortable, lower is better held",
        x=Axis(title="discomfort over stock", kind="ratio"),
        y=Axis(title="loss of control over stock", kind="ratio"),
        lines=tuple(lines),
        marks=marks,
    )


__all__ = ["TUNED", "Trial", "balance", "best_build", "build_indices", "study", "trials"]
