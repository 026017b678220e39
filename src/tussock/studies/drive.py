"""Drive: how will it ride and hold the road?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.studies import drive_tables, flat_ride, loop, loop_heat, model, parts
from tussock.studies.baseline import modes_table
from tussock.studies.display import show
from tussock.studies.job import ENDS, STOCK, Job, Setup
from tussock.studies.loop import LoopIndex, SectionRun
from tussock.studies.result import Axis, Line, LineChart, Mark, Notice, Result

QUESTION = "How will it ride and hold the road?"

_SEEN = 1e-3  # share of time from which a class of damper speeds is drawn
HALF_LANE = 1.75  # further off its path a steered vehicle has left its lane [m]; common practice, no source


def study(job: Job, *, fitout: str | None = None, build: str | None = None, against: str | None = None) -> Result:
    """Return comfort and control of one build on the road loop, against another.

    Parameters
    ----------
    job : Job
        The programme.
    fitout, build : str, optional
        Which; the first fit-out and the last build unless said.
    against : str, optional
        Build to compare with; stock unless said.

    Returns
    -------
    Result
        Passes when no bump stop is pressed beyond its measured curve, no damper is pulled to its open length, and the
        axles stay within their maps.
    """
    setup = job.setup(fitout, build)
    other = job.setup(setup.fitout, STOCK if against is None else against)
    runs, reference = loop.drive_loop(job, setup), loop.drive_loop(job, other)
    index = loop.loop_index(runs, reference)
    failures, remarks = _failures(job, setup, runs), _remarks(job, setup, runs)
    heat = loop_heat.loop_heat(job, setup)
    steered, soft = drive_tables.steering(runs), drive_tables.cushion(runs)
    both = [(name_of(s), s) for s in dict.fromkeys((setup, other))]
    hot = () if heat is None else loop_heat.notices(heat)
    seed = job.programme.road_loop.seed
    return Result(
        stage="drive",
        question=QUESTION,
        answer=_answer(setup, other, runs, index),
        passes=not failures,
        provenance=job.provenance(setup, seed=seed),
        notices=(*failures, *remarks, *hot),
        pictures=(
            _map(setup, other, index),
            _histogram(setup, other, runs, reference),
            flat_ride.picture(job, both),
            *(() if heat is None else (loop_heat.picture(heat),)),
        ),
        tables=(
            drive_tables.sections(runs, index, over=name_of(other)),
            drive_tables.comfort(runs),
            *(() if soft is None else (soft,)),
            drive_tables.judging(runs),
            drive_tables.shocks(runs),
            drive_tables.control(runs),
            *(() if steered is None else (steered,)),
            drive_tables.flat(runs, wheelbase=model.vehicle(job, setup).wheelbase),
            *flat_ride.tables(job, both),
            drive_tables.stops(runs),
            drive_tables.dampers(runs),
            *(() if heat is None else (loop_heat.table(heat, job),)),
            modes_table(job, setup),
            drive_tables.weighing(loop.weights(job), own=job.programme.targets.weights is not None),
        ),
        inputs={
            "road_loop": f"{job.programme.road_loop.name}, seed {seed}",
            **loop.measured_words(job),
            "fit-out": setup.fitout,
            "build": setup.build,
            "against": other.build,
            **{f"{end} damper": curve_words(job, setup, end) for end in ENDS},
        },
        values={
            "comfort_index": index.comfort,
            "control_index": index.control,
            **({} if heat is None else {"warm_control_index": heat.index.control, "warm_oil_K": heat.hottest}),
            **{f"{r.name.replace(' ', '_')}_seat_m_per_s2": r.measures["seat"] for r in runs},
        },
    )


def curve_words(job: Job, setup: Setup, end: str) -> str:
    """Say whose force curve an axle's dampers are driven with, and where it is from."""
    fitted = parts.fitted(job, setup, end)
    name = "stock" if fitted.damper_name == STOCK else fitted.damper_name
    if fitted.curve_from == "valves":
        return f"{name}, computed from its valves, oil at {job.programme.road_loop.oil_temperature}"
    return f"{name}, {fitted.damper.dyno if fitted.curve_from == 'dyno' else 'measured points'}"


def name_of(setup: Setup) -> str:
    """Return a setup's build as people say it."""
    return "stock" if setup.stock else setup.build


def change(index: float, better: str, worse: str) -> str:
    """Return an index as words: "9 % more comfortable", "about as comfortable".

    >>> change(0.91, "more comfortable", "less comfortable")
    '9 % more comfortable'
    """
    share = abs(1.0 - index)
    if share < 0.005:
        return f"neither {better} nor {worse}"
    return f"{show(share, 'share', digits=0)} {better if index < 1.0 else worse}"


def _answer(setup: Setup, other: Setup, runs: Sequence[SectionRun], index: LoopIndex) -> str:
    worst = max(runs, key=lambda r: r.measures["seat"])
    off = max(runs, key=lambda r: r.measures["airborne"])
    text = (
        f"On the house loop {name_of(setup)} is {change(index.comfort, 'more comfortable', 'less comfortable')} than "
        f"{name_of(other)} and {change(index.control, 'better controlled', 'worse controlled')}; "
        f"the {worst.name} is the roughest at {show(worst.measures['seat'], 'acceleration')} ({worst.reaction})"
    )
    if off.measures["airborne"] > 0.0005:
        share = show(off.measures["airborne"], "share")
        return f"{text}, and the wheels are off the ground {share} of the time on the {off.name}."
    return f"{text}, and no wheel leaves the ground."


def off_the_path(runs: Sequence[SectionRun]) -> list[Notice]:
    """Say where a steered vehicle left its lane: the section's figures are then those of a vehicle off its road."""
    return [
        Notice(
            text=f"On the {r.name} it leaves its path by {r.measures['drift']:.1f} m with the driver steering "
            f"({r.manoeuvre}, {show(r.speed, 'speed')})",
            remedy="drive it slower: tyres and driver do not hold it there",
        )
        for r in runs
        if r.steered and r.measures["drift"] > HALF_LANE
    ]


def _failures(job: Job, setup: Setup, runs: Sequence[SectionRun]) -> list[Notice]:
    out: list[Notice] = []
    for a, end in enumerate(ENDS):
        limit = float(parts.bump_stop(job, setup, end).force[-1])
        hit = max(runs, key=lambda r: max(r.stops[2 * a : 2 * a + 2]))
        hardest = max(hit.stops[2 * a : 2 * a + 2])
        if hardest > limit:
            out.append(
                Notice(
                    text=f"The {end} bump stop takes {show(hardest, 'force_k')} on the {hit.name}, beyond its measured "
                    f"{show(limit, 'force_k')}",
                    remedy="measure the stop further, fit a taller one, or slow down",
                )
            )
    for r in runs:
        if r.measures["top_outs"] > 0:
            out.append(
                Notice(
                    text=f"A damper is pulled to its open length {r.measures['top_outs']:.0f} times on the {r.name}, "
                    f"with up to {show(r.measures['top_out_force'], 'force_k')}",
                    remedy="a longer damper, more rebound damping, or a droop strap",
                )
            )
        if r.measures["bottoms"] > 0:
            out.append(
                Notice(
                    text=f"A damper is pushed to its closed length {r.measures['bottoms']:.0f} times on the {r.name}, "
                    f"with up to {show(r.measures['bottom_force'], 'force_k')}: it carries what the bump stop should",
                    remedy="a shorter damper, a taller bump stop or spacer, or more compression damping",
                )
            )
    out += off_the_path(runs)
    outside = max(runs, key=lambda r: r.outside_tables)
    if outside.outside_tables > 0.0:
        out.append(
            Notice(
                text=f"On the {outside.name} an axle moves {outside.outside_tables:.1f} cells beyond its computed map",
                remedy="the figures of that section are extrapolated; look at travel and stops first",
            )
        )
    return out


def _remarks(job: Job, setup: Setup, runs: Sequence[SectionRun]) -> list[Notice]:
    """Say where the dampers ran much faster than the dyno did: the force there is carried on, not measured."""
    out: list[Notice] = []
    for a, end in enumerate(ENDS):
        worn = parts.fitted(job, setup, end)
        measured = worn.curve_from != "valves"
        low, high = (job.measured_curve(worn.damper) if measured else worn.curve).measured_range
        beyond = "computed from their valves" if worn.curve.measured_range[1] > high else "the end slope carried on"
        work = [w for r in runs for w in r.damper[2 * a : 2 * a + 2]]
        fastest = max(max(w.fastest_compression - high, w.fastest_rebound + low) for w in work)
        if fastest > 0.5:
            out.append(
                Notice(
                    text=f"The {end} dampers run {show(fastest, 'velocity')} faster than was measured; "
                    f"beyond it the force is {beyond}",
                    remedy="run the dyno faster before trusting the hardest hits",
                )
            )
    return out


def _map(setup: Setup, other: Setup, index: LoopIndex) -> LineChart:
    return LineChart(
        key="comfort_control",
        title=f"{name_of(setup)} against {name_of(other)}: left is more comfortable, lower is better held",
        x=Axis(title=f"discomfort over {name_of(other)}", kind="ratio"),
        y=Axis(title=f"loss of control over {name_of(other)}", kind="ratio"),
        lines=tuple(
            Line(label=name, x=(comfort,), y=(control,), dots=True)
            for name, (comfort, control) in index.by_section.items()
        ),
        marks=(Mark(text=name_of(other), x=1.0, y=1.0, role="stock" if other.stock else "plain"),),
    )


def _histogram(setup: Setup, other: Setup, runs: Sequence[SectionRun], reference: Sequence[SectionRun]) -> LineChart:
    edges = runs[0].damper[0].edges
    middle = 0.5 * (edges[1:] + edges[:-1])
    shares = [np.mean([r.damper[0].share for r in which], axis=0) for which in (reference, runs)]
    # the classes at both ends that stay empty only press what there is together
    seen = np.flatnonzero(np.max(shares, axis=0) > _SEEN)
    some = slice(max(int(seen[0]) - 1, 0), int(seen[-1]) + 2)

    def line(label: str, share: Floats, stock: bool) -> Line:
        return Line(
            label=label,
            x=tuple(map(float, middle[some])),
            y=tuple(map(float, share[some])),
            role="stock" if stock else "build",
        )

    return LineChart(
        key="damper_speed",
        title="Front left damper: share of time at each speed, all sections",
        x=Axis(title="speed, compression positive", kind="velocity"),
        y=Axis(title="share of time", kind="share"),
        lines=(line(name_of(other), shares[0], other.stock), line(name_of(setup), shares[1], setup.stock)),
    )
