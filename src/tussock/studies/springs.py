"""Springs: which spring is made how, and does it survive?"""

from __future__ import annotations

import math
from collections.abc import Sequence

from tussock.errors import DomainError
from tussock.mechanics.springs import Proposal, SpectrumLife, propose, stress_reserve
from tussock.studies import spring_tables as tables
from tussock.studies.display import show
from tussock.studies.job import Job
from tussock.studies.result import Notice, Result
from tussock.studies.shaped_coils import PartStress, load_curves
from tussock.studies.spring_drawing import drawing_table
from tussock.studies.spring_parts import part_notices, part_table, parts_of
from tussock.studies.spring_work import SpringWork, loop_length, loop_life, spring_works, strokes

QUESTION = "Which spring is made how, and does it survive?"
LIFE = 100e6  # on the road loop, which is harsher than the road [m]: common practice, no source
_RATE_ALLOWED = 0.03  # a coil's rate from its wire may differ from the specified one by this share, if no +- is stated


def study(job: Job, *, fitout: str | None = None, build: str | None = None) -> Result:
    """Return how every kit spring is made and whether it survives the travel and the road loop.

    Parameters
    ----------
    job : Job
        The programme.
    fitout : str, optional
        Only its springs; else every spring in the fit-out that loads it most.
    build : str, optional
        Whose dampers it is driven with; the last one unless said.

    Returns
    -------
    Result
        Passes when every coil keeps its permissible stress at solid, clears its neighbours at full bump, does not
        buckle between its seats, outlasts the life wanted on the loop, and gives the rate that is specified.
    """
    setup = job.setup(fitout, build)
    works = spring_works(job, setup.build, fitout)
    lives = {w.name: loop_life(job, w, setup.build) for w in works}
    reserves = {w.name: reserve(job, w, setup.build) for w in works}
    proposals = {w.name: proposed(job, w, setup.build) for w in works}
    failures = [n for w in works for n in _failures(job, w, lives[w.name])]
    remarks = [n for w in works for n in _remarks(w)]
    records = job.programme.kit.springs
    parts = parts_of(records, works)
    set_parts, looked_at = part_notices(records, works)
    failures += set_parts
    remarks += looked_at
    if any(w.kind == "coil" for w in works) and job.programme.kit.coiling is None:
        remarks.append(
            Notice(
                text="No wires and no room for coils are given, so none are proposed",
                remedy="give kit.coiling: the wires that can be had, least inner and greatest outer diameter",
            )
        )
    return Result(
        stage="springs",
        question=QUESTION,
        answer=_answer(job, works, lives, reserves, parts, failures),
        passes=not failures,
        provenance=job.provenance(setup, seed=job.programme.road_loop.seed),
        notices=(*failures, *remarks),
        pictures=(*tables.pictures(job, works, setup.build), *load_curves(records, works)),
        tables=(
            tables.stress_table(works, reserves),
            *((part_table(parts),) if parts else ()),
            tables.length_table(works),
            tables.life_table(job, works, lives),
            *(t for t in (tables.side_table(works), tables.proposal_table(works, proposals)) if t.rows),
            drawing_table(job, works),
            tables.stop_table(job, setup),
        ),
        inputs={
            **{f"kit.springs.{w.name}": tables.made(w) for w in works},
            "life wanted": f"{LIFE / 1e3:,.0f} km on the road loop",
        },
        values={f"{w.name}_stress_reserve_factor": r for w in works if (r := reserves[w.name]) is not None},
    )


def reserve(job: Job, work: SpringWork, build: str) -> float | None:
    """Return how much every stress might grow before the loop wears the coil out in the life wanted [-]."""
    if not work.fatigue_known or work.coil is None:
        return None
    counted = strokes(job, work, build)
    return stress_reserve(work.coil, counted, rounds=LIFE / loop_length(job)) if counted else None


def proposed(job: Job, work: SpringWork, build: str) -> tuple[Proposal, ...]:
    """Return coils that could be made for a spring's rate, its load and its length at target height, best first."""
    coiling = job.programme.kit.coiling
    if work.kind != "coil" or coiling is None or work.load <= 0.0:
        return ()
    try:
        return propose(
            rate=work.rate,
            load=work.load,
            length=work.wanted_length,
            shortest=work.bump,
            longest=max(work.droop, work.wanted_length),
            wires=[float(w) for w in coiling.wires],
            inside_least=float(coiling.inside[work.end]),
            outside_most=float(coiling.outside[work.end]),
            strokes=strokes(job, work, build),
            rounds=LIFE / loop_length(job),
        )
    except DomainError:
        return ()  # the table says that none can be made


def _failures(job: Job, work: SpringWork, life: SpectrumLife | None) -> list[Notice]:
    coil = work.coil
    if coil is None:
        return []
    out: list[Notice] = []
    if work.bump <= coil.solid_length:
        out.append(
            Notice(
                text=f"{_named(work)}: solid at {show(coil.solid_length, 'length')} before full bump, "
                f"{show(work.bump, 'length')}",
                remedy="fewer coils, a larger diameter, or a taller bump-stop spacer",
            )
        )
    elif work.bump < coil.least_length:
        out.append(
            Notice(
                text=f"{_named(work)}: at full bump {show(coil.least_length - work.bump, 'length')} below its smallest "
                "permissible length, so coils touch",
                remedy="fewer coils, a larger diameter, or a taller bump-stop spacer",
            )
        )
    share = coil.solid_stress / coil.permitted_solid_stress
    if share > 1.0:
        out.append(
            Notice(
                text=f"{_named(work)}: pressed solid it is stressed to {show(share, 'share', digits=0)} of what is "
                "permitted, so it sets",
                remedy="a thicker wire with more coils; see the proposals",
            )
        )
    buckles = coil.buckling_deflection("fixed, fixed")
    if coil.free_length - work.bump > buckles:
        out.append(
            Notice(
                text=f"{_named(work)}: buckles between its seats "
                f"{show(coil.free_length - buckles - work.bump, 'length')} before full bump",
                remedy="a larger coil diameter, or a guide inside",
            )
        )
    if life is not None:
        lasts = math.inf if life.damage <= 0.0 else loop_length(job) / life.damage
        if lasts < LIFE:
            out.append(
                Notice(
                    text=f"{_named(work)}: lasts {_lasts(lasts)} of the road loop, {_lasts(LIFE)} are wanted",
                    remedy="a thicker wire with more coils, or a firmer stop that keeps it from its hardest strokes",
                )
            )
    allowed = max(work.rate_spread / work.rate, _RATE_ALLOWED)
    if abs(coil.rate / work.rate - 1.0) > allowed:
        out.append(
            Notice(
                text=f"{_named(work)}: its wire gives {show(coil.rate, 'rate')}, specified are "
                f"{show(work.rate, 'rate')}",
                remedy="change wire, diameter or coils, or specify the rate that it has",
            )
        )
    return out


def _remarks(work: SpringWork) -> list[Notice]:
    coil = work.coil
    if work.kind != "coil":
        return []
    if coil is None:
        return [
            Notice(
                text=f"{_named(work)}: wire, coil diameter or coils are not given, so nothing is known of its stress",
                remedy="give wire, mean_diameter and active_coils",
            )
        ]
    out: list[Notice] = []
    if work.droop > work.free_length:
        out.append(
            Notice(
                text=f"{_named(work)}: hangs loose by {show(work.droop - work.free_length, 'length')} at full droop",
                remedy="retain it at its seats, or a droop strap",
            )
        )
    if not work.fatigue_known:
        out.append(
            Notice(
                text=f"{_named(work)}: no published fatigue data reach its wire of {show(coil.wire, 'length_fine')}",
                remedy="test it on a pulser before release",
            )
        )
    return out


def _answer(
    job: Job,
    works: Sequence[SpringWork],
    lives: dict[str, SpectrumLife | None],
    reserves: dict[str, float | None],
    parts: Sequence[PartStress],
    failures: Sequence[Notice],
) -> str:
    known = [w for w in works if w.coil is not None or w.kind != "coil"]
    if not known:
        return f"None of the {len(works)} kit springs has its wire and coils given, so 0 can be judged."
    if failures:
        failing = [w for w in known if any(n.text.startswith(f"{_named(w)}:") for n in failures)]
        first = failures[0].text
        return f"{len(known) - len(failing)} of {len(known)} kit springs survive; {first[0].lower()}{first[1:]}."
    uses = {w.name: _worst_use(w, reserves[w.name], parts) for w in known}
    hardest = max(known, key=lambda w: uses[w.name][0])
    use, what = uses[hardest.name]
    damages = [life.damage for life in lives.values() if life is not None]
    text = (
        f"All {len(known)} kit springs survive; nearest to a limit is the {hardest.title}, at "
        f"{show(use, 'share', digits=0)} of {what}"
    )
    if damages and max(damages) > 0.0:
        text += f", and the first to fail on the road loop lasts {_lasts(loop_length(job) / max(damages))}"
    return f"{text}."


def _named(work: SpringWork) -> str:
    return work.title[:1].upper() + work.title[1:]


def _lasts(metres: float) -> str:
    return "more than 1,000,000 km" if metres > 1e9 else f"{1e3 * round(metres / 1e6):,.0f} km"


def _worst_use(work: SpringWork, margin: float | None, parts: Sequence[PartStress]) -> tuple[float, str]:
    coil = work.coil
    if coil is None:
        return max(p.bump / p.proof for p in parts if p.spring == work.name), "its proof stress at full bump"
    found = [(coil.solid_stress / coil.permitted_solid_stress, "its permissible stress at solid")]
    if margin is not None and margin > 0.0:
        found.append((1.0 / margin, "the stress that outlasts the loop"))
    return max(found)
