"""What each fit-out weighs on axles, tyres, roof and hitch, against what the maker allows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from tussock.mechanics.mass import GRAVITY
from tussock.studies import model, parts
from tussock.studies.display import show
from tussock.studies.job import ENDS, Job, Setup
from tussock.studies.result import Cell, Column, Notice, Table


@dataclass(frozen=True, kw_only=True)
class Load:
    """One limit of one fit-out.

    Attributes
    ----------
    fitout, what : str
        Which, and what is limited: "gross mass", "front axle", "rear tyre", "roof", "hitch".
    mass, limit : float
        What is there and what is allowed [kg].
    """

    fitout: str
    what: str
    mass: float
    limit: float

    @property
    def over(self) -> bool:
        """Whether it is above the limit."""
        return self.mass > self.limit + 1e-9


def loads(job: Job, build: str) -> tuple[Load, ...]:
    """Return every limit that the programme states, for every fit-out on the kit's springs with a build."""
    return tuple(load for name in job.programme.fitouts for load in _of(job, name, build))


def _of(job: Job, fitout: str, build: str) -> Iterator[Load]:
    vehicle, record = job.programme.vehicle, job.programme.fitouts[fitout]

    def at(what: str, mass: float, limit: object) -> Iterator[Load]:
        if limit is not None:
            yield Load(fitout=fitout, what=what, mass=mass, limit=float(limit))  # type: ignore[arg-type]

    yield from at("gross mass", parts.whole_mass(job, fitout).mass, vehicle.gross_mass)
    # the heaviest wheel counts for the tyre: an uneven load tips more onto one side
    wheels = model.rest(job, Setup(fitout=fitout, build=build)).wheel_load / GRAVITY
    for i, end in enumerate(ENDS):
        pair = wheels[2 * i : 2 * i + 2]
        if vehicle.axle_limits is not None:
            yield from at(f"{end} axle", float(pair.sum()), vehicle.axle_limits[end])
        yield from at(f"{end} tyre", float(pair.max()), vehicle.tyre.load_limit)
    for place, limit in (("roof", vehicle.roof_limit), ("hitch", vehicle.hitch_limit)):
        carried = sum(float(item.mass) for item in record.items if item.on == place)
        if carried > 0.0:
            yield from at(place, carried, limit)


def load_table(job: Job, found: tuple[Load, ...]) -> Table:
    """Return masses against their limits, those over marked."""
    rows: list[tuple[Cell, ...]] = [
        (
            job.programme.fitouts[load.fitout].title,
            load.what,
            load.mass,
            load.limit,
            load.limit - load.mass,
            "over the limit" if load.over else "within",
        )
        for load in found
    ]
    return Table(
        key="loads",
        title="Masses against the maker's limits",
        columns=(
            Column(key="fitout", title="Fit-out"),
            Column(key="what", title="Limit"),
            Column(key="mass", title="Carries", kind="mass"),
            Column(key="limit", title="Allowed", kind="mass"),
            Column(key="left", title="Left", kind="mass", sign=True),
            Column(key="verdict", title="Reading"),
        ),
        rows=tuple(rows),
        strong=tuple(i for i, load in enumerate(found) if load.over),
        note="a tyre is judged by the heavier side; the tyre's limit holds at the pressure that the programme gives",
    )


def load_notices(job: Job, found: tuple[Load, ...]) -> tuple[Notice, ...]:
    """Say which limits are exceeded; no spring raises a legal limit."""
    return tuple(
        Notice(
            text=f"{job.programme.fitouts[load.fitout].title}: the {load.what} carries {show(load.mass, 'mass')}, "
            f"{show(load.limit, 'mass')} is allowed"
            if load.what != "gross mass"
            else f"{job.programme.fitouts[load.fitout].title}: {show(load.mass, 'mass')} is above the gross mass of "
            f"{show(load.limit, 'mass')}",
            remedy="take load out or move it; springs do not raise a legal limit",
        )
        for load in found
        if load.over
    )
