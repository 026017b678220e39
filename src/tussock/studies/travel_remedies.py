"""What mends a travel that is too short, in words with the size that does it."""

from __future__ import annotations

import math

import numpy as np

from tussock.studies import model, travel_stops
from tussock.studies.display import show
from tussock.studies.job import Job, Setup
from tussock.studies.limiters import AxlePath, Stop
from tussock.studies.reach import AxleTravel, margins
from tussock.studies.result import Notice
from tussock.studies.travel_plane import Plane


def the(name: str) -> str:
    """Name a limiter in a sentence."""
    return "the coils closing" if name == "coil bind" else f"the {name.split(',')[0]}"


def before_the_stop(job: Job, setup: Setup, plane: Plane) -> Notice | None:
    """Say where something ends bump before the bump stop has taken its load, and the spacer that lets the stop."""
    need = travel_stops.spacer_need(job, setup, plane)
    if need.fitted >= need.least - 1e-6:
        return None
    factor = float(job.programme.targets.bump_force)
    level = next((e.high for e in plane.edges if abs(e.roll) < 1e-9), None)
    ended = level is not None and not level.name.startswith("bump stop")
    where = "" if ended else f", rolled up to {show(float(job.programme.targets.roll), 'angle', digits=0)}"
    taller = show(1e-3 * math.ceil(1e3 * (need.least - need.fitted) - 1e-6), "length")
    return Notice(
        text=f"{plane.end.capitalize()}{where}: {the(need.first)} ends bump before the bump stop has taken "
        f"{factor:.0f} g",
        remedy=f"a stop spacer {taller} taller than the kit's"
        if need.least <= need.most
        else "a taller bump stop, or less travel",
    )


def remedy(job: Job, setup: Setup, travel: AxleTravel, stop: Stop, short: float) -> str:
    """Return what part gives the missing travel."""
    name, end = stop.name, travel.end
    more = show(math.ceil(short * 1e3) * 1e-3, "length")
    if name == "damper open":
        return f"a damper {_growth(job, setup, travel, stop, short)} longer when open"
    if name == "damper closed":
        return f"a damper {_growth(job, setup, travel, stop, short)} shorter when closed, or a stop spacer of {more}"
    if name == "spring loose":
        return f"hold the spring captive, or {more} more free length at the same load"
    if name == "coil bind":
        return f"a coil {_growth(job, setup, travel, stop, short)} shorter when solid, or a stop spacer of {more}"
    if name.startswith("bump stop"):
        return f"a spacer {more} shorter, or a softer stop"
    for limiter in job.programme.vehicle.axles[end].limiters:
        if limiter.name != name:
            continue
        if limiter.kind == "line":
            return f"a line {_growth(job, setup, travel, stop, short)} longer"
        if limiter.kind in ("clearance", "tyre"):
            return f"a stop spacer of {more}"
        return f"{more} less travel by a strap, or a joint with a wider angle"
    return ""


def _growth(job: Job, setup: Setup, travel: AxleTravel, stop: Stop, short: float) -> str:
    """Return the length that a limiter lacks where the missing travel would be had, in whole millimetres up."""
    path = AxlePath(model.travel_map(job, travel.end, setup, roll=travel.roll), 1 if stop in travel.level else None)
    margin = margins(job, setup, travel.end, path)[stop.name].reshape(path.heave.size, -1).min(axis=1)
    sign = -1.0 if stop.where == "droop" else 1.0
    there = float(np.interp(stop.heave + sign * short, model.TRAVEL_HEAVE, margin))
    return show(math.ceil(max(-there, 1e-3) * 1e3 - 1e-6) * 1e-3, "length")
