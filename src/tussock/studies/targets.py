"""Targets: what must it become, and what do the rules allow?"""

from __future__ import annotations

from tussock.mechanics import mass as masses
from tussock.studies import parts, rules
from tussock.studies.display import show
from tussock.studies.job import ENDS, KERB, STOCK, Job
from tussock.studies.result import Axis, Cell, Column, Notice, Result, Rung, Span, SpanChart, Table

QUESTION = "What must it become, and what do the rules allow?"

#: Top of the lowest band of static stability factors, one star: NHTSA, 66 FR 3388 (2001), from memory
LOWEST_BAND = 1.03


def greatest_lift(job: Job) -> float:
    """Return the greatest lift of any fit-out and axle that the targets ask for [m]."""
    return max(float(getattr(t, e)) for t in job.programme.targets.lift.values() for e in ENDS)


def study(job: Job) -> Result:
    """Return the targets beside the rules, with what a higher body costs in stability.

    Parameters
    ----------
    job : Job
        The programme.

    Returns
    -------
    Result
        Passes when no named rule is exceeded and no fit-out is over the gross mass.
    """
    targets = job.programme.targets
    lift = greatest_lift(job)
    chosen = [rules.lift_rule(key) for key in targets.rules]
    notices: list[Notice] = []
    broken = [r for r in chosen if r.lift is not None and lift > r.lift + 1e-9]
    for r in broken:
        notices.append(
            Notice(
                text=f"{r.jurisdiction}: {show(lift, 'length')} of lift is more than the "
                f"{show(r.lift or 0.0, 'length')} that {r.source} allows without certification",
                remedy="lower the target or plan for certification; confirm locally",
            )
        )
    factors = {name: _stability(job, name) for name in (KERB, *job.programme.fitouts)}
    gross = float(job.programme.vehicle.gross_mass)
    heavy = [n for n in job.programme.fitouts if parts.whole_mass(job, n).mass > gross]
    for name in heavy:
        notices.append(
            Notice(
                text=f"{job.programme.fitouts[name].title} weighs "
                f"{show(parts.whole_mass(job, name).mass, 'mass')}, "
                f"above the gross mass of {show(gross, 'mass')}",
                remedy="take load out; no kit raises a legal limit",
            )
        )
    if not chosen:
        notices.append(Notice(text="No rule is named in the targets", remedy="name the rules of the country of use"))
    strictest = min((r for r in chosen if r.lift is not None), key=lambda r: r.lift or 0.0, default=None)
    worst = min(job.programme.fitouts, key=lambda n: factors[n])
    if factors[worst] <= LOWEST_BAND < factors[KERB]:
        notices.append(
            Notice(
                text=f"{job.programme.fitouts[worst].title} brings the static stability factor to "
                f"{show(factors[worst], 'ratio')}, into the lowest band of the published rating "
                f"({show(LOWEST_BAND, 'ratio')} and below)",
                remedy="carry load low and off the roof, lift less, or widen the track; tell the drivers",
            )
        )
    text = (
        f"The kit must lift up to {show(lift, 'length')} and keep {_both(job, 'droop')} of droop "
        f"and {_both(job, 'bump')} of bump"
    )
    if strictest is not None:
        text += (
            f"; the strictest rule named allows {show(strictest.lift or 0.0, 'length')} without certification "
            f"({strictest.jurisdiction}, confirm locally)"
        )
    text += (
        f", and lift and load take the static stability factor from {show(factors[KERB], 'ratio')} to "
        f"{show(factors[worst], 'ratio')}."
    )
    return Result(
        stage="targets",
        question=QUESTION,
        answer=text,
        passes=not (broken or heavy),
        provenance=job.provenance(job.setup(KERB, STOCK)),
        notices=tuple(notices),
        pictures=(_picture(job, strictest),),
        tables=(_fitouts(job, factors), _goals(job), _rules(chosen, lift)),
        inputs={
            **{f"targets.lift.{n}": f"front {t.front}, rear {t.rear}" for n, t in targets.lift.items()},
            "targets.rules": ", ".join(targets.rules),
        },
        values={"greatest_lift_m": lift, **{f"{n}_stability_factor": f for n, f in factors.items()}},
    )


def _both(job: Job, where: str) -> str:
    front, rear = (float(getattr(job.programme.targets, where)[e]) for e in ENDS)
    if front == rear:
        return show(front, "length")
    return f"{show(front, 'length')} in front and {show(rear, 'length')} behind"


def _stability(job: Job, fitout: str) -> float:
    """Return the static stability factor with the body at its target height."""
    state = parts.whole_mass(job, fitout)
    track = 0.5 * (parts.track(job, "front") + parts.track(job, "rear"))
    rise = 0.0
    if fitout != KERB:
        wanted = job.programme.targets.lift[fitout]
        # the axles stay down: only the sprung share rises
        sprung = parts.sprung_mass(job, fitout).mass / state.mass
        rise = sprung * 0.5 * (float(wanted.front) + float(wanted.rear))
    return masses.static_stability_factor(track=track, height=state.centre[2] + rise)


def _fitouts(job: Job, factors: dict[str, float]) -> Table:
    limit = float(job.programme.vehicle.gross_mass)
    rows: list[tuple[Cell, ...]] = []
    for name, record in job.programme.fitouts.items():
        wanted = job.programme.targets.lift[name]
        state = parts.whole_mass(job, name)
        rear = -state.centre[0] / float(job.programme.vehicle.wheelbase)
        rows.append(
            (
                record.title,
                state.mass,
                limit - state.mass,
                state.mass * (1.0 - rear),
                state.mass * rear,
                float(wanted.front),
                float(wanted.rear),
                float(wanted.tolerance),
                factors[name],
            )
        )
    return Table(
        key="fitouts",
        title="Fit-outs and their heights",
        columns=(
            Column(key="fitout", title="Fit-out"),
            Column(key="mass", title="Mass", kind="mass"),
            Column(key="left", title="Left to gross", kind="mass"),
            Column(key="front", title="Front axle", kind="mass"),
            Column(key="rear", title="Rear axle", kind="mass"),
            Column(key="lift_front", title="Lift front", kind="length", sign=True),
            Column(key="lift_rear", title="Lift rear", kind="length", sign=True),
            Column(key="tolerance", title="+-", kind="length"),
            Column(key="stability", title="Stability factor", kind="ratio"),
        ),
        rows=tuple(rows),
        strong=tuple(i for i, r in enumerate(rows) if float(r[2] or 0.0) < 0.0),
        note="stability factor: half track over height of the centre of gravity (NHTSA, 65 FR 34998); a rigid vehicle "
        "tips at that many g",
    )


def _goals(job: Job) -> Table:
    t = job.programme.targets
    rows: tuple[tuple[Cell, ...], ...] = (
        ("droop from ride height, at least", str(t.droop.front), str(t.droop.rear)),
        ("bump from ride height, at least", str(t.bump.front), str(t.bump.rear)),
        ("bump stop ends the travel at", str(t.bump_force), str(t.bump_force)),
        ("limiters hold in roll to", str(t.roll), str(t.roll)),
        (
            "ride frequency",
            f"{t.ride_frequency.front.least} to {t.ride_frequency.front.most}",
            f"{t.ride_frequency.rear.least} to {t.ride_frequency.rear.most}",
        ),
        ("damping ratio", f"{t.damping_ratio.least} to {t.damping_ratio.most}", "same"),
        ("caster", f"{t.caster.least} to {t.caster.most}", ""),
        ("lateral shift over the travel, at most", str(t.lateral_shift), str(t.lateral_shift)),
        ("wheel steer over the travel, at most", str(t.bump_steer), str(t.bump_steer)),
        ("pinion from stock, at most", str(t.pinion_angle), str(t.pinion_angle)),
        ("side to side, at most", str(t.side_to_side), str(t.side_to_side)),
    )
    return Table(
        key="goals",
        title="Goals",
        columns=(
            Column(key="goal", title="Goal"),
            Column(key="front", title="Front"),
            Column(key="rear", title="Rear"),
        ),
        rows=rows,
    )


def _rules(chosen: list[rules.LiftRule], lift: float) -> Table:
    rows: list[tuple[Cell, ...]] = [
        (
            r.jurisdiction,
            r.lift if r.lift is not None else None,
            "" if r.lift is None else ("within" if lift <= r.lift + 1e-9 else "above"),
            r.source,
            r.date,
            r.confidence,
            r.note,
        )
        for r in chosen
    ]
    return Table(
        key="rules",
        title="Published limits on lift",
        columns=(
            Column(key="where", title="Jurisdiction"),
            Column(key="limit", title="Lift allowed", kind="length"),
            Column(key="verdict", title="Target"),
            Column(key="source", title="Source"),
            Column(key="date", title="Edition"),
            Column(key="confidence", title="Text seen"),
            Column(key="note", title="Note"),
        ),
        rows=tuple(rows),
        strong=tuple(i for i, r in enumerate(rows) if r[2] == "above"),
        note="figures change and differ by category; confirm the edition in force locally before release",
    )


def _picture(job: Job, strictest: rules.LiftRule | None) -> SpanChart:
    spans: list[Span] = []
    for end in ENDS:
        for name, t in job.programme.targets.lift.items():
            at, tolerance = float(getattr(t, end)), float(t.tolerance)
            rungs: tuple[Rung, ...] = ()
            first = end == "front" and name == next(iter(job.programme.targets.lift))
            if strictest is not None and strictest.lift is not None and first:
                rungs = (Rung(text=f"{strictest.jurisdiction} {show(strictest.lift, 'length')}", at=strictest.lift),)
            spans.append(
                Span(
                    group=end.capitalize(),
                    label=job.programme.fitouts[name].title,
                    low=at - tolerance,
                    high=at + tolerance,
                    role="target",
                    rungs=rungs,
                )
            )
    return SpanChart(
        key="lift",
        title="Lift wanted, with tolerance",
        y=Axis(title="body height above stock kerb", kind="length"),
        spans=tuple(spans),
        zero_label="stock kerb",
    )
