"""How the kit stands against the published rules that the programme names. A reading, not legal advice."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tussock.studies import heights, model, rules
from tussock.studies.display import show
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.reach import axle_travel
from tussock.studies.result import Cell, Column, Notice, Table
from tussock.studies.rules import LiftRule

_LOCALLY = "confirm locally"


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One rule read against the kit.

    Attributes
    ----------
    rule : LiftRule
        The rule.
    words : str
        What it comes to.
    broken : tuple of Notice
        What exceeds it, empty if nothing does.
    """

    rule: LiftRule
    words: str
    broken: tuple[Notice, ...]


def greatest_lift(job: Job, setup: Setup) -> float:
    """Return the greatest lift at which any fit-out stands [m]."""
    return max(r.lift for r in heights.height_rows(job, setup.build))


def travel_kept(job: Job, setup: Setup) -> float:
    """Return the least share of the stock travel from kerb that is left either way, over both axles [-]."""
    shares: list[float] = []
    for end in ENDS:
        stock = axle_travel(job, Setup(fitout=KERB, build=STOCK), end)
        kit = axle_travel(job, setup, end)
        shares += [
            kit.left(where) / stock.left(where) for where in ("droop", "bump") if math.isfinite(stock.left(where))
        ]
    return min(shares, default=math.inf)


def over_ground(job: Job, build: str, where: str) -> dict[str, tuple[float, float]] | None:
    """Return least and greatest height of bumper or frame at each end over all fit-outs [m]; None if not measured.

    The ends of frame and bumpers lie outside the wheelbase; the rise there is taken as that of the axle.
    """
    vehicle = job.programme.vehicle
    measured = {"bumper": vehicle.bumper_height, "frame": vehicle.frame_height}.get(where)
    if measured is None:
        return None
    out: dict[str, tuple[float, float]] = {}
    postures = [model.posture(job, Setup(fitout=name, build=build)) for name in job.programme.fitouts]
    for end in ENDS:
        rises = [p[end].lift for p in postures]
        out[end] = (float(measured[end]) + min(rises), float(measured[end]) + max(rises))
    return out


def readings(job: Job, setup: Setup) -> tuple[Reading, ...]:
    """Return every rule that the programme names, read against the kit as it stands."""
    lift, kept = greatest_lift(job, setup), travel_kept(job, setup)
    return tuple(_read(job, setup, rules.lift_rule(key), lift, kept) for key in job.programme.targets.rules)


def _read(job: Job, setup: Setup, rule: LiftRule, lift: float, kept: float) -> Reading:
    words: list[str] = []
    broken: list[Notice] = []
    if rule.lift is not None:
        if lift <= rule.lift + 1e-9:
            words.append("within the figure")
        else:
            words.append("certificate needed")
            broken.append(
                Notice(
                    text=f"{rule.jurisdiction}: the kit stands {show(lift, 'length_fine')} over stock, more than the "
                    f"{show(rule.lift, 'length')} that {rule.source} allows without certification",
                    remedy=f"lower it or plan for certification; {_LOCALLY}",
                )
            )
    if rule.travel_kept is not None:
        enough = kept >= rule.travel_kept - 5e-4
        words.append(
            f"{show(kept, 'share')} of the stock travel is left, {'enough' if enough else 'certificate needed'}"
        )
        if not enough:
            broken.append(
                Notice(
                    text=f"{rule.jurisdiction}: the kit keeps {show(kept, 'share')} of the stock travel, less than the "
                    f"{show(rule.travel_kept, 'share')} that {rule.source} wants without certification",
                    remedy=f"longer lines and dampers, or less lift; {_LOCALLY}",
                )
            )
    if rule.measured_at:
        said, notices = _heights(job, setup, rule)
        words.append(said)
        broken += notices
    return Reading(rule=rule, words="; ".join(words) or rule.note, broken=tuple(broken))


def _heights(job: Job, setup: Setup, rule: LiftRule) -> tuple[str, list[Notice]]:
    """Return what a limit on the height of bumper, frame or body comes to."""
    gross = float(job.programme.vehicle.gross_mass)
    limit = rule.limit_for(gross)
    if limit is None:
        return f"no figure for {show(gross, 'mass')} gross", []
    allowed = f"{rule.measured_at} up to {show(limit.front, 'length')} front, {show(limit.rear, 'length')} rear"
    stands = over_ground(job, setup.build, rule.measured_at)
    if stands is None:
        return f"{allowed}; measure the {rule.measured_at} of the vehicle and enter it", []
    over = [e for e in ENDS if stands[e][1] > getattr(limit, e) + 1e-9]
    low = [e for e in ENDS if rule.least is not None and stands[e][0] < rule.least - 1e-9]
    words = f"{allowed}; it stands at {show(stands['front'][1], 'length')} and {show(stands['rear'][1], 'length')}"
    notices = [
        Notice(
            text=f"{rule.jurisdiction}: the {e} {rule.measured_at} stands {show(stands[e][1], 'length')} over ground, "
            f"{show(getattr(limit, e), 'length')} is the greatest by {rule.source}",
            remedy=f"lower it; {_LOCALLY}",
        )
        for e in over
    ]
    notices += [
        Notice(
            text=f"{rule.jurisdiction}: loaded, the {e} {rule.measured_at} comes to {show(stands[e][0], 'length')}",
            remedy=f"{show(rule.least or 0.0, 'length')} is the least by {rule.source}; {_LOCALLY}",
        )
        for e in low
    ]
    return words, notices


def compliance_table(found: tuple[Reading, ...], lift: float) -> Table:
    """Return the compliance record."""
    rows: list[tuple[Cell, ...]] = [
        (r.rule.jurisdiction, r.rule.source, r.rule.date, r.rule.confidence, r.rule.lift, lift, r.words, _LOCALLY)
        for r in found
    ]
    return Table(
        key="compliance",
        title="Compliance record",
        columns=(
            Column(key="where", title="Jurisdiction"),
            Column(key="source", title="Source"),
            Column(key="date", title="Edition"),
            Column(key="confidence", title="Text seen"),
            Column(key="limit", title="Without certification", kind="length"),
            Column(key="lift", title="This kit", kind="length"),
            Column(key="verdict", title="Reading"),
            Column(key="confirm", title=""),
        ),
        rows=tuple(rows),
        strong=tuple(i for i, r in enumerate(found) if r.broken),
        note="a reading of published figures, not legal advice",
    )
