"""Geometry: what did the lift spoil, and what part mends it?"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace

from tussock.errors import AssemblyError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Axle
from tussock.studies import aim, model, propshafts
from tussock.studies.display import KINDS, number, show
from tussock.studies.geometry_parts import Characteristics, characteristics, with_changes
from tussock.studies.geometry_pictures import pictures
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.lever_parts import lever_notices, lever_pictures, lever_table, levers
from tussock.studies.mending import Part
from tussock.studies.mending_axle import (
    Bench,
    Option,
    mend_camber,
    mend_caster,
    mend_drive,
    mend_roll_centre,
    mend_shift,
    mend_steer,
)
from tussock.studies.propshafts import ShaftAnswer, shaft_notices, shaft_table
from tussock.studies.result import Cell, Column, Notice, Result, Table

CAMBER_WORTH = math.radians(0.15)  # camber further than this from stock is worth a part
JOINT_WORTH = math.radians(3.0)  # drive joints that run at so much more than stock are worth a part; common practice
QUESTION = "What did the lift spoil, and what part mends it?"


def study(job: Job, *, fitout: str | None = None, build: str | None = None) -> Result:
    """Return what the lift does to both axles and the parts that mend it.

    Parameters
    ----------
    job : Job
        The programme.
    fitout, build : str, optional
        Whose ride height; the first fit-out and the last build unless said.

    Returns
    -------
    Result
        Passes when the kit with the parts found meets the targets for caster, lateral shift, bump steer and pinion.
    """
    setup = job.setup(fitout, build)
    posture = model.posture(job, setup)
    kerb = model.posture(job, Setup(fitout=KERB, build=STOCK))
    windows = {e: (float(job.programme.targets.droop[e]), float(job.programme.targets.bump[e])) for e in ENDS}
    stock = {
        e: characteristics(job, model.axle(job, e, stock=True), e, ride=kerb[e].heave, window=windows[e]) for e in ENDS
    }
    lifted = {
        e: characteristics(
            job, model.axle(job, e, stock=False, setup=setup), e, ride=posture[e].heave, window=windows[e]
        )
        for e in ENDS
    }
    notices: list[Notice] = []
    options = _options(job, setup, posture, windows, stock, notices)
    found = tuple(o.part for o in options if o.fitted)
    mended: dict[str, Characteristics] = {}
    shafts: list[ShaftAnswer] = []
    for e in ENDS:
        own = [p for p in found if p.end == e]
        changes: dict[str, Floats] = {}
        for part in own:
            changes |= part.changes
        refit = tuple(rod for part in own for rod in part.refit)
        axle = (
            with_changes(job, e, changes, refit=refit, setup=setup)
            if own
            else model.axle(job, e, stock=False, setup=setup)
        )
        mended[e] = characteristics(job, axle, e, ride=posture[e].heave, window=windows[e])
        was, now = model.axle(job, e, stock=True), model.axle(job, e, stock=False, setup=setup)
        if not (isinstance(was, Axle) and isinstance(now, Axle) and isinstance(axle, Axle)):
            continue  # the final drive of independent wheels does not move
        shaft = propshafts.answer(
            job,
            e,
            stock=(was, kerb[e].heave),
            lifted=(now, posture[e].heave),
            mended=(axle, posture[e].heave),
            window=windows[e],
        )
        if shaft is not None:
            shafts.append(shaft)
    failures = _failures(job, stock, mended)
    notices.extend(failures)
    for e in ENDS:
        bench = Bench(job, setup, e, ride=posture[e].heave, window=windows[e], fitted=found)
        notices.extend(_clearance(e, bench.spacer()) if bench.fitted else ())
    notices.extend(shaft_notices(job, shafts))
    arms = levers(job, setup)
    notices.extend(lever_notices(arms))
    lamps, lamp_notices = aim.headlamps(job, setup.build)
    aimed, aimed_notices = aim.aimed(job, setup.build)
    notices.extend((*lamp_notices, *aimed_notices))
    return Result(
        stage="geometry",
        question=QUESTION,
        answer=_answer(posture, stock, lifted, mended, found),
        passes=not failures,
        provenance=job.provenance(setup),
        notices=tuple(notices),
        pictures=(*pictures(job, posture, stock, lifted, mended, found), *lever_pictures(arms)),
        tables=(
            *(_table(e, stock[e], lifted[e], mended[e]) for e in ENDS),
            _parts_table(found),
            *((_options_table(options, stock),) if options else ()),
            *((shaft_table(shafts),) if shafts else ()),
            *((lever_table(arms),) if arms else ()),
            *(t for t in (lamps, aimed) if t is not None),
        ),
        inputs={
            "targets.caster": f"{job.programme.targets.caster.least} to {job.programme.targets.caster.most}",
            "targets.lateral_shift": str(job.programme.targets.lateral_shift),
            "targets.bump_steer": str(job.programme.targets.bump_steer),
            "targets.pinion_angle": str(job.programme.targets.pinion_angle),
        },
        values={
            **{f"{p.end}_{p.key}_m": p.size for p in found},
            **_values({"stock": stock, "lifted": lifted, "mended": mended}),
        },
    )


def _values(states: Mapping[str, Mapping[str, Characteristics]]) -> dict[str, float]:
    """Return every characteristic in SI by axle, name, state and unit; the tables show them rounded."""
    out: dict[str, float] = {}
    for state, axles in states.items():
        for end, got in axles.items():
            for _, name, kind in _ROWS:
                value = getattr(got, name)
                if _shown(end, name, got) or (value is not None and got.camber is None):
                    unit = "ratio" if KINDS[kind].si_unit == "1" else KINDS[kind].si_unit
                    out[f"{end}_{name.removesuffix('_ratio')}_{state}_{unit}"] = float(value)
    return out


def _options(
    job: Job,
    setup: Setup,
    posture: Mapping[str, model.Standing],
    windows: Mapping[str, tuple[float, float]],
    stock: Mapping[str, Characteristics],
    notices: list[Notice],
) -> tuple[Option, ...]:
    """Return every way to mend both axles, those marked that the study goes on with, in the order of fitting."""
    targets = job.programme.targets
    out: list[Option] = []

    def fit(what: str, make: Callable[[], list[Option]], choose: Callable[[list[Option]], Option | None]) -> None:
        try:
            tried = make()
        except (SolverError, AssemblyError) as error:
            notices.append(Notice(text=f"{what}: {error}", remedy="widen the bounds or change the layout"))
            return
        chosen = choose(tried) if tried else None
        out.extend(replace(o, fitted=o is chosen) for o in tried)

    def bench(end: str) -> Bench:
        fitted = [o.part for o in out if o.fitted]
        return Bench(job, setup, end, ride=posture[end].heave, window=windows[end], fitted=fitted)

    shift = float(targets.lateral_shift)
    for end in ENDS:
        wanted = min(stock[end].lateral_shift, shift)
        fit(
            f"{end.capitalize()} track-rod bracket",
            lambda end=end, wanted=wanted: mend_shift(bench(end), wanted=wanted, target=shift),  # type: ignore[misc]
            lambda tried: tried[0],
        )
        if any(o.fitted and o.part.end == end for o in out):
            lone = Bench(job, setup, end, ride=posture[end].heave, window=windows[end])
            fit(
                f"{end.capitalize()} roll centre",
                lambda lone=lone, end=end: mend_roll_centre(lone, wanted=stock[end].roll_centre),  # type: ignore[misc]
                lambda tried: None,
            )
    caster = min(max(stock["front"].caster, float(targets.caster.least)), float(targets.caster.most))
    turned = float(targets.pinion_angle)

    def least_harm(tried: list[Option]) -> Option:
        # the first that keeps the pinion within its target, in the order in which the trade reaches for them
        kept = [o for o in tried if abs(o.after.pinion - stock["front"].pinion) <= turned]
        return (kept or tried)[0]

    fit("Caster", lambda: mend_caster(bench("front"), target=caster), least_harm)
    steer = min(stock["front"].bump_steer, float(targets.bump_steer))

    def steadiest(tried: list[Option]) -> Option:
        allowed = float(targets.bump_steer)
        return min(tried, key=lambda o: (o.after.bump_steer > allowed, abs(o.after.roll_steer_gain or 0.0)))

    for end in ENDS:
        stood = stock[end].camber
        if stood is not None:
            fit(
                f"{end.capitalize()} camber",
                lambda end=end, stood=stood: mend_camber(bench(end), wanted=stood, worth=CAMBER_WORTH),  # type: ignore[misc]
                lambda tried: tried[0],
            )
    fit("Steer over the travel", lambda: mend_steer(bench("front"), wanted=steer), steadiest)
    for end in ENDS:
        angle = stock[end].inner_joint
        if angle is not None:
            fit(
                f"{end.capitalize()} drive joints",
                lambda end=end, angle=angle: mend_drive(  # type: ignore[misc]
                    bench(end), wanted=angle + JOINT_WORTH, worth=0.0
                ),
                lambda tried: tried[0],
            )
    return tuple(out)


def _failures(job: Job, stock: Mapping[str, Characteristics], mended: Mapping[str, Characteristics]) -> list[Notice]:
    targets = job.programme.targets
    out: list[Notice] = []
    least, most = float(targets.caster.least), float(targets.caster.most)
    caster = mended["front"].caster
    if not least <= caster <= most:
        out.append(
            Notice(
                text=f"Caster is {show(caster, 'angle')}, outside {show(least, 'angle')} to {show(most, 'angle')}",
                remedy="a larger bush offset or arm drop brackets"
                if mended["front"].camber is None
                else "upper arms with their ball set further rearward",
            )
        )
    for e in ENDS:
        if mended[e].lateral_shift > float(targets.lateral_shift):
            out.append(
                Notice(
                    text=f"The {e} axle moves {show(mended[e].lateral_shift, 'length_fine')} sideways over its travel, "
                    f"{show(float(targets.lateral_shift), 'length')} is allowed",
                    remedy="a longer track rod, or less travel",
                )
            )
        if mended[e].bump_steer > float(targets.bump_steer):
            out.append(
                Notice(
                    text=f"The {e} wheels steer {show(mended[e].bump_steer, 'angle_fine')} over the travel, "
                    f"{show(float(targets.bump_steer), 'angle_fine')} is allowed",
                    remedy="bring the drag link parallel to the track rod: move the pitman end with the rod"
                    if mended[e].camber is None
                    else "move the tie rods' ends, or mend caster by a part that turns the upright less",
                )
            )
        change = abs(mended[e].pinion - stock[e].pinion)
        if change > float(targets.pinion_angle):
            out.append(
                Notice(
                    text=f"The {e} pinion turns {show(change, 'angle')} from stock, "
                    f"{show(float(targets.pinion_angle), 'angle')} is allowed",
                    remedy="a wedge or adjustable links, or less caster correction; check the propshaft's joint angles",
                )
            )
    return out


def _clearance(end: str, spacer: float) -> tuple[Notice, ...]:
    """Say what bump travel the parts leave before a rod meets the chassis, and the spacer that keeps it."""
    if spacer <= 5e-4:
        return ()
    return (
        Notice(
            text=f"With the parts the {end} rod may meet the chassis {show(spacer, 'length')} before full bump",
            remedy=f"a stop spacer {show(math.ceil(spacer * 1e3) * 1e-3, 'length')} taller than the kit's",
        ),
    )


def _answer(
    posture: Mapping[str, model.Standing],
    stock: Mapping[str, Characteristics],
    lifted: Mapping[str, Characteristics],
    mended: Mapping[str, Characteristics],
    found: tuple[Part, ...],
) -> str:
    was, now, then = stock["front"], lifted["front"], mended["front"]
    lost = show(was.caster - now.caster, "angle")
    text = f"Lifted {show(posture['front'].lift, 'length')}, the front loses {lost} of caster "
    if was.camber is None or now.camber is None or then.camber is None:
        fault, mend = _throw(was, now, then)
    else:
        fault = (
            f"and leans its wheels to {show(now.camber, 'angle_fine')} of camber from {show(was.camber, 'angle_fine')}"
        )
        if was.inner_joint is not None and now.inner_joint is not None:
            bent, straight = show(now.inner_joint, "angle"), show(was.inner_joint, "angle")
            fault += f", its drive joints run at {bent} instead of {straight}"
        mend = f"{show(then.camber, 'angle_fine')} of camber"
    front = [p.words for p in found if p.end == "front"]
    if not front:
        return f"{text}{fault}; no part is needed."
    return f"{text}{fault}; with {_listed(front)} it is back to {show(then.caster, 'angle')} of caster and {mend}."


def _throw(was: Characteristics, now: Characteristics, then: Characteristics) -> tuple[str, str]:
    """Return what a lift does to a rigid axle's place sideways, and what it is with the parts."""
    fault = (
        f"and throws its axle {show(now.lateral_shift, 'length_fine')} sideways over the travel instead of "
        f"{show(was.lateral_shift, 'length_fine')}"
    )
    return fault, show(then.lateral_shift, "length_fine")


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


_ROWS: tuple[tuple[str, str, str], ...] = (
    ("Caster", "caster", "angle"),
    ("Camber, top outward", "camber", "angle_fine"),
    ("Camber over the travel", "camber_change", "angle_fine"),
    ("Toe of one wheel, inward", "toe", "angle_fine"),
    ("King-pin inclination", "king_pin_inclination", "angle"),
    ("Scrub radius", "scrub_radius", "length_fine"),
    ("Trail", "trail", "length_fine"),
    ("Pinion, nose up from stock", "pinion", "angle"),
    ("Lateral shift over the travel", "lateral_shift", "length_fine"),
    ("Axle to the left at ride height", "lateral_at_ride", "length_fine"),
    ("Track change of one wheel over the travel", "track_change", "length_fine"),
    ("Steer of the wheels over the travel", "bump_steer", "angle_fine"),
    ("Hand wheel to drive straight", "steering_offset", "angle"),
    ("Axle steer per roll", "axle_steer_gain", "ratio"),
    ("Wheel steer per roll", "roll_steer_gain", "ratio"),
    ("Ackermann, share of the full difference", "ackermann", "share"),
    ("Roll centre over ground", "roll_centre", "length"),
    ("Track rod, chassis end up", "track_rod_tilt", "angle"),
    ("Drag link, chassis end up", "drag_link_tilt", "angle"),
    ("Inner drive joint", "inner_joint", "angle"),
    ("Outer drive joint", "outer_joint", "angle"),
    ("Wind-up, braking with half the load", "wind_up", "angle_fine"),
    ("Shackle from stock, lower end rearward", "shackle_swing", "angle"),
    ("Anti-dive or anti-lift in braking", "anti_brake", "share"),
    ("Anti-lift or anti-squat in driving", "anti_drive", "share"),
    ("Spring motion ratio", "spring_ratio", "ratio"),
    ("Damper motion ratio", "damper_ratio", "ratio"),
)
_REAR_HIDES = ("caster", "steering_offset")
_WHEEL_HIDES = ("pinion", "lateral_shift")
"""What means nothing: caster of wheels that do not steer; pinion and throw of an axle where there is none."""


def _shown(end: str, name: str, got: Characteristics) -> bool:
    if getattr(got, name) is None or (end == "rear" and name in _REAR_HIDES):
        return False
    return got.camber is None or name not in _WHEEL_HIDES


def _table(end: str, stock: Characteristics, lifted: Characteristics, mended: Characteristics) -> Table:
    """Return one axle's characteristics, each as text with its unit since every row has its own."""
    rows: list[tuple[Cell, ...]] = []
    for title, name, kind in _ROWS:
        if not all(_shown(end, name, c) for c in (stock, lifted, mended)):
            continue
        values = [getattr(c, name) for c in (stock, lifted, mended)]
        unit = show(0.0, kind).removeprefix(number(0.0, kind)).strip()
        rows.append((title, unit, *(number(float(v), kind) for v in values)))
    return Table(
        key=f"{end}_geometry",
        title=f"{end.capitalize()} {'axle' if stock.camber is None else 'wheels'}",
        columns=(
            Column(key="characteristic", title="Characteristic"),
            Column(key="unit", title="Unit"),
            Column(key="stock", title="Stock at kerb"),
            Column(key="lifted", title="Lifted"),
            Column(key="mended", title="With the parts"),
        ),
        rows=tuple(rows),
    )


def _parts_table(found: tuple[Part, ...]) -> Table:
    rows: list[tuple[Cell, ...]] = []
    refit = sorted({f"{part.end} {rod}" for part in found for rod in part.refit})
    for part in found:
        for name, point in part.changes.items():
            rows.append((part.title, part.end, name, *(float(c) for c in point), part.size))
    return Table(
        key="parts",
        title="Parts, as fitted in the stock pose",
        columns=(
            Column(key="part", title="Part"),
            Column(key="axle", title="Axle"),
            Column(key="point", title="Point"),
            Column(key="x", title="x", kind="length_fine", sign=True),
            Column(key="y", title="y", kind="length_fine", sign=True),
            Column(key="z", title="z", kind="length_fine", sign=True),
            Column(key="size", title="Size", kind="length_fine", sign=True),
        ),
        rows=tuple(rows),
        note="left side, vehicle axes; write them under kit.changes to fit them"
        + (f", and refit under kit.rod_lengths for {', '.join(refit)}" if refit else ""),
    )


def _options_table(options: tuple[Option, ...], stock: Mapping[str, Characteristics]) -> Table:
    """Return every way that was solved, and what each does to the rest of its axle."""
    rows: list[tuple[Cell, ...]] = [
        (
            f"{o.part.end}, {o.purpose}",
            o.part.title,
            o.part.size,
            o.after.lateral_shift,
            o.after.roll_centre - stock[o.part.end].roll_centre,
            o.after.caster if o.part.end == "front" else None,
            o.after.pinion - stock[o.part.end].pinion,
            o.after.bump_steer,
            o.spacer,
        )
        for o in options
    ]
    return Table(
        key="options",
        title="Ways to mend it, and what each does to the rest",
        columns=(
            Column(key="purpose", title="For"),
            Column(key="part", title="Part"),
            Column(key="size", title="Size", kind="length_fine", sign=True),
            Column(key="shift", title="Lateral shift", kind="length_fine"),
            Column(key="roll_centre", title="Roll centre, from stock", kind="length", sign=True),
            Column(key="caster", title="Caster", kind="angle"),
            Column(key="pinion", title="Pinion, from stock", kind="angle", sign=True),
            Column(key="steer", title="Steer over travel", kind="angle_fine"),
            Column(key="spacer", title="Stop spacer", kind="length"),
        ),
        rows=tuple(rows),
        strong=tuple(i for i, o in enumerate(options) if o.fitted),
        note="marked: fitted here; each is solved beside the parts marked above it. A drop bracket carries the rod's "
        "whole side force on a lever: have it and its bolts checked",
    )
