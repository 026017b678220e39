"""What a build changed from its parent, in words that follow from what differs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from tussock.studies import damper_inside, parts
from tussock.studies.display import show
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.spring_laws import spring_law

FITOUT = "the fit-out's"


def tyre_pressure(job: Job, build: str, end: str) -> float | None:
    """Return the cold pressure to which a build's tyres are set, else the vehicle's [Pa]; None where none is known."""
    said = job.programme.worn(build, "tyre_pressure", end)
    said = job.programme.vehicle.tyre.pressure if said is None else said
    return None if said is None else float(said)


def change_words(job: Job, build: str) -> tuple[str, ...]:
    """Return what differs between a build and its parent, one piece a part: discs, springs, bars, stops, tyres."""
    parent = job.programme.builds[build].parent
    words = [w for end in ENDS for w in _axle(job, build, parent, end)]
    old, new = (job.programme.worn(b, "packers") for b in (parent, build))
    if old != new:
        words.append(f"packers {_several(new)} for {_several(old)}")
    return tuple(words)


def _axle(job: Job, build: str, parent: str, end: str) -> Iterator[str]:
    here, before = (Setup(fitout=KERB, build=b) for b in (build, parent))
    (name, new), (old_name, old) = (parts.damper_choice(job, s, end) for s in (here, before))
    if name != old_name:
        yield f"{end} damper: {damper_inside.change_words(job, old, old_name, new, name)}"
    words: tuple[tuple[str, Callable[[str], str]], ...] = (
        ("spring", lambda b: _spring(job, job.programme.worn(b, "springs", end), end)),
        ("bar", lambda b: show(parts.bar_rate(job, end, b), "roll_rate")),
        ("stops", lambda b: _stops(job, b, end)),
        ("tyres", lambda b: _tyres(job, b, end)),
    )
    for what, say in words:
        if say(build) != say(parent):
            yield f"{end} {what}: {say(build)} for {say(parent)}"


def _spring(job: Job, name: str | None, end: str) -> str:
    if name is None:
        return FITOUT
    record: Any = job.programme.spring(name, end)
    return f"{name} ({spring_law(record).words})"


def _stops(job: Job, build: str, end: str) -> str:
    # what the kit does to the stops is no change of a build, so stock is taken as the kit has it
    programme = job.programme
    stops, spacer = (programme.worn(build, part, end) for part in ("stop_stacks", "stop_spacers"))
    stops = programme.kit.stop_stacks[end] if stops is None else stops
    spacer = programme.kit.stop_spacers[end] if spacer is None else spacer
    return f"{' on '.join(reversed(stops)) or 'stock stop'}, spacer {show(float(spacer), 'length')}"


def _tyres(job: Job, build: str, end: str) -> str:
    found = tyre_pressure(job, build, end)
    return "no pressure" if found is None else f"{found / 1e5:.2f} bar"


def _several(packers: tuple[str, ...] | None) -> str:
    return FITOUT if packers is None else ", ".join(packers) or "none"


def tree(job: Job) -> tuple[tuple[str, int], ...]:
    """Return every build with its depth below stock, children after their parent in the order of the programme."""
    builds = job.programme.builds

    def below(parent: str, depth: int) -> Iterator[tuple[str, int]]:
        for name, build in builds.items():
            if build.parent == parent:
                yield name, depth
                yield from below(name, depth + 1)

    return tuple(below(STOCK, 1))
