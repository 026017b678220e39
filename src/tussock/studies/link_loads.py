"""Loads: what do bushes and links carry in the usual cases, and how far does the suspension give?"""

from __future__ import annotations

import numpy as np

from tussock.mechanics.linkage.load_cases import CaseAnswer, CaseTable, EndOfVehicle, case_table
from tussock.studies import model, parts
from tussock.studies.display import show
from tussock.studies.job import ENDS, Job, Setup
from tussock.studies.result import Axis, Cell, Column, Notice, Result, Rung, Span, SpanChart, Table

QUESTION = "What do bushes and links carry, and how far do they give?"
_SHOWN = 6  # joints of each axle in the picture


def end_of_vehicle(job: Job, setup: Setup, end: str) -> EndOfVehicle:
    """Return what the load cases of one end need to know of a setup."""
    vehicle, axle = job.programme.vehicle, job.programme.vehicle.axles[end]
    rest = model.rest(job, setup)
    wheels = slice(0, 2) if end == "front" else slice(2, 4)
    whole = parts.whole_mass(job, setup.fitout)
    lift = np.mean([s.lift for s in model.posture(job, setup).values()])
    ratio = axle.propshaft.final_drive if axle.propshaft is not None else None
    return EndOfVehicle(
        end="front" if end == "front" else "rear",
        load=float(np.sum(rest.wheel_load[wheels])),
        vehicle_load=float(np.sum(rest.wheel_load)),
        # the unsprung part does not rise with the body: its share is small beside that of the body
        gravity_height=whole.centre[2] + float(lift),
        wheelbase=float(vehicle.wheelbase),
        track=parts.track(job, end),
        brake_share=parts.axle_share(vehicle.front_brake_share, end),
        drive_share=parts.axle_share(vehicle.front_drive_share, end),
        inboard_brakes=axle.brakes == "inboard",
        propeller_ratio=float(ratio) if ratio is not None else 0.0,
        wheel_radius=float(vehicle.tyre.free_radius),
    )


def cases(job: Job, setup: Setup, end: str) -> CaseTable:
    """Return the answers of one axle, or one independent wheel, to the load cases at ride height."""
    suspension = model.axle(job, end, stock=setup.stock, setup=setup)
    return case_table(suspension, end_of_vehicle(job, setup, end), first=model.posture(job, setup)[end].heave)


def study(job: Job, *, fitout: str | None = None, build: str | None = None) -> Result:
    """Return how both axles answer the usual load cases at ride height, and what every joint carries.

    Parameters
    ----------
    job : Job
        The programme.
    fitout, build : str, optional
        The heaviest fit-out and the last build unless said.

    Returns
    -------
    Result
        Always passes: what a bush or a bolt may carry is its maker's figure, and stands beside these.
    """
    heaviest = max(job.programme.fitouts, key=lambda f: parts.whole_mass(job, f).mass)
    setup = job.setup(fitout or heaviest, build)
    found = {end: cases(job, setup, end) for end in ENDS}
    rigid = [end for end in ENDS if not job.programme.vehicle.axles[end].bushes]
    notices = tuple(
        Notice(
            text=f"The {end} suspension has no bush rates: its links are taken as rigid, and nothing gives",
            remedy="measure the bushes and enter their rates",
        )
        for end in rigid
    )
    return Result(
        stage="loads",
        question=QUESTION,
        answer=_answer(found, [end for end in ENDS if end not in rigid]),
        passes=True,
        provenance=job.provenance(setup),
        notices=notices,
        pictures=(_picture(found),),
        tables=(
            *(_answers_table(end, found[end]) for end in ENDS),
            *(_loads_table(end, found[end]) for end in ENDS),
        ),
        inputs={
            "fit-out": setup.fitout,
            "vehicle.front_brake_share": str(job.programme.vehicle.front_brake_share),
            "vehicle.front_drive_share": str(job.programme.vehicle.front_drive_share),
        },
        values={
            **{f"{end}_wind_up_braking_rad": _case(found[end], "braking").wind_up for end in ENDS},
            **{f"{end}_largest_load_N": float(np.max(found[end].resultants)) for end in ENDS},
        },
    )


def _case(table: CaseTable, name: str) -> CaseAnswer:
    return next(a for a in table.answers if a.case.name == name)


def _title(table: CaseTable, name: str) -> str:
    return next(a.case.title for a in table.answers if a.case.name == name)


def _answer(found: dict[str, CaseTable], giving: list[str]) -> str:
    worst: tuple[float, str, str, str] = max(
        (float(np.max(row)), joint, end, table.worst[i])
        for end, table in found.items()
        for i, (joint, row) in enumerate(zip(table.joints, table.resultants, strict=True))
    )
    most = (
        f"Most is carried by the {worst[2]} {_words(worst[1])}, {show(worst[0], 'force_k')} in "
        f"{_title(found[worst[2]], worst[3])}"
    )
    if not giving:
        return f"{most}; no bush rates are given, so 0 of 2 axles give."

    def ends(values: dict[str, str]) -> str:
        return " and ".join(f"the {end} by {value}" for end, value in values.items())

    wound = {end: show(abs(_case(found[end], "braking").wind_up), "angle_fine") for end in giving}
    turn = {end: show(float(np.mean(_case(found[end], "left_turn").steer)), "angle_fine", sign=True) for end in giving}
    return f"{most}; braking at 0.7 g winds up {ends(wound)}, and a turn at 0.5 g steers {ends(turn)}."


def _words(joint: str) -> str:
    return joint.replace("_", " ")


def _answers_table(end: str, table: CaseTable) -> Table:
    rows: list[tuple[Cell, ...]] = [
        (
            a.case.title,
            float(np.mean([f.up for f in a.forces])),
            float(np.mean(a.steer)),
            float(np.mean(a.toe)),
            float(np.mean(a.camber)),
            float(np.mean(a.caster)),
            float(np.mean(a.shift[:, 0])),
            float(np.mean(a.shift[:, 1])),
        )
        for a in table.answers
    ]
    return Table(
        key=f"{end}_compliance",
        title=f"{end.capitalize()}: how far it gives, springs held",
        columns=(
            Column(key="case", title="Case"),
            Column(key="load", title="Wheel load", kind="force_k"),
            Column(key="steer", title="Steer, left", kind="angle_fine", sign=True),
            Column(key="toe", title="Toe-in", kind="angle_fine", sign=True),
            Column(key="camber", title="Camber", kind="angle_fine", sign=True),
            Column(key="caster", title="Caster", kind="angle_fine", sign=True),
            Column(key="forward", title="Tyre forward", kind="length_fine", sign=True),
            Column(key="left", title="Tyre to the left", kind="length_fine", sign=True),
        ),
        rows=tuple(rows),
        note="against standing; mean of both wheels of a rigid axle, the left one of independent wheels; "
        "the cases are common practice, no source",
    )


def _loads_table(end: str, table: CaseTable) -> Table:
    rows: list[tuple[Cell, ...]] = [
        (_words(joint), *(float(v) for v in table.resultants[i]), _title(table, table.worst[i]))
        for i, joint in enumerate(table.joints)
    ]
    return Table(
        key=f"{end}_loads",
        title=f"{end.capitalize()}: what each joint carries",
        columns=(
            Column(key="joint", title="Joint"),
            *(Column(key=a.case.name, title=a.case.title, kind="force_k") for a in table.answers),
            Column(key="worst", title="Most in"),
        ),
        rows=tuple(rows),
        note="resultant force of each joint or link; steady loads, a hole in the road adds to them. Brackets, bolts "
        "and welds are for the maker and a licensed engineer to judge",
    )


def _picture(found: dict[str, CaseTable]) -> SpanChart:
    spans: list[Span] = []
    for end, table in found.items():
        most = np.max(table.resultants, axis=1)
        for i in np.argsort(-most)[:_SHOWN]:
            load = float(most[i])
            case = _title(table, table.worst[int(i)]).partition(",")[0]
            spans.append(
                Span(
                    group=end.capitalize(),
                    label=_words(table.joints[int(i)]),
                    low=0.0,
                    high=load,
                    rungs=(Rung(text=f"{case} {show(load, 'force_k')}", at=load),),
                )
            )
    return SpanChart(
        key="loads",
        title="What the hardest worked joints carry, and in which case",
        y=Axis(title="force", kind="force_k"),
        spans=tuple(spans),
        zero_label="",
    )
