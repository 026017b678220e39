"""From the record's damper bodies and valves to builds that mechanics assembles, and the change from one to another."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from difflib import SequenceMatcher
from typing import TYPE_CHECKING, Any

from tussock.errors import DomainError, InputError, SolverError
from tussock.mechanics.dampers.assembly import LiftTables, Parameters, assemble, curve_at
from tussock.mechanics.dampers.build import (
    Bleed,
    Body,
    DamperBuild,
    PlateValve,
    Ports,
    Reservoir,
    StackValve,
    Valve,
    Valving,
)
from tussock.mechanics.dampers.hydraulics import Damper, Hose, Oil, oil_column_stiffness
from tussock.mechanics.dampers.stack import Disc, Material, Washer
from tussock.record.discs import DiscLine, disc_words

if TYPE_CHECKING:
    from tussock.mechanics.dampers import ForceCurve
    from tussock.studies.job import Job

#: Temperatures [K] at which oil data sheets and the record state viscosities: -20, 40 and 100 degrees Celsius.
COLD, WARM, HOT = 253.15, 313.15, 373.15
#: Rod speed to which valves carry on what a dyno measured [m/s]: faster than any hit of the road loop.
CARRIED_TO = 4.0
#: Rod speed in rebound at whose force the oil column's stiffness is taken [m/s]: of the body's own motion.
OIL_AT = 0.26


def lifts(job: Job) -> LiftTables:
    """Return the memory of solved stacks."""
    return job.kept.once("lift tables", LiftTables)


def is_buildable(damper: Any) -> bool:
    """Say whether a damper of the record has what a computed curve needs."""
    return damper.body is not None and damper.valves is not None


def takes_valves(damper: Any) -> bool:
    """Say whether studies take a damper's force from its valves: told so, or nothing was measured."""
    measured = damper.dyno is not None or damper.curve is not None
    return is_buildable(damper) and (damper.forces_from == "valves" or not measured)


def build_of(job: Job, damper: Any, name: str) -> DamperBuild:
    """Return the build that mechanics assembles.

    Parameters
    ----------
    job : Job
        Its workshop has the discs and oils.
    damper : record Damper
        With body and valves.
    name : str
        For messages and results.

    Raises
    ------
    InputError
        If the damper has no valves, or cannot be built; the text names it.
    """
    if not is_buildable(damper):
        raise InputError(f"{name}: the programme gives no body and valves for this damper")
    try:
        return DamperBuild(
            body=_body(job, damper),
            piston=_valving(job, damper.valves.piston),
            foot=None if damper.valves.foot is None else _valving(job, damper.valves.foot),
            name=name,
        )
    except DomainError as error:
        text = str(error)
        raise InputError(text if text.startswith(name) else f"{name}: {text}") from None


def parameters(job: Job) -> Parameters:
    """Return the parameters of the house's dampers: text-book values where the programme gives none.

    Raises
    ------
    InputError
        If one lies outside what can be.
    """
    record = job.programme.workshop.parameters
    given = {
        f.name: float(getattr(record, f.name)) for f in fields(Parameters) if getattr(record, f.name, None) is not None
    }
    try:
        return Parameters(**given)
    except DomainError as error:
        raise InputError(f"workshop.parameters: {error}") from None


def calibrated(job: Job) -> bool:
    """Say whether the programme gives any parameter of the house."""
    return bool(job.programme.workshop.parameters.model_fields_set - {"note"})


def assembled(job: Job, damper: Any, name: str) -> Damper:
    """Return a damper of the record as the hydraulics take it; InputError if it cannot be built."""
    build = build_of(job, damper, name)
    try:
        return assemble(build, parameters=parameters(job), lifts=lifts(job))
    except (DomainError, SolverError) as error:
        raise InputError(str(error)) from None


def computed_curve(
    job: Job, damper: Any, name: str, *, temperature: float | None = None, most: float = 2.0
) -> ForceCurve:
    """Return the curve that a damper's valves give to `most` m/s at an oil temperature [K], else the road loop's."""
    kelvin = float(job.programme.road_loop.oil_temperature) if temperature is None else temperature
    build = build_of(job, damper, name)
    try:
        return curve_at(build, temperature=kelvin, parameters=parameters(job), lifts=lifts(job), most=most)
    except (DomainError, SolverError) as error:
        raise InputError(str(error)) from None


def oil_stiffness(job: Job, damper: Any, curve: ForceCurve) -> float:
    """Return the stiffness of a damper's oil column [N/m]: the record's, else by its body; 0 where neither is known."""
    if damper.oil_stiffness is not None:
        return float(damper.oil_stiffness)
    if not is_buildable(damper):
        return 0.0
    build, kelvin = build_of(job, damper, job.damper_name(damper)), float(job.programme.road_loop.oil_temperature)
    rebound, house = -curve.force_at(-OIL_AT), parameters(job)

    def make() -> float:
        try:
            whole = assemble(build, parameters=house, lifts=lifts(job))
            return oil_column_stiffness(whole, rebound=rebound, temperature=kelvin)
        except (DomainError, SolverError) as error:
            raise InputError(str(error)) from None

    return job.kept.once(("oil column", build, house, rebound, kelvin), make)


def dyno_temperature(job: Job, damper: Any) -> float:
    """Return the oil temperature of a damper's dyno file where it is known, else the road loop's [K]."""
    found = None if damper.dyno is None else job.dyno_tests[damper.dyno].mean_temperature
    return float(job.programme.road_loop.oil_temperature) if found is None else found


def carried_on(job: Job, damper: Any, measured: ForceCurve) -> ForceCurve:
    """Return a measured curve carried on by the damper's valves, where they are known, to speeds no dyno reaches."""
    if not is_buildable(damper):
        return measured
    kelvin = dyno_temperature(job, damper)
    return measured.extended(computed_curve(job, damper, job.damper_name(damper), temperature=kelvin, most=CARRIED_TO))


def oil_of(job: Job, name: str) -> Oil:
    """Return an oil of the workshop."""
    record = job.programme.workshop.oils[name]
    points = [(WARM, float(record.viscosity_40)), (HOT, float(record.viscosity_100))]
    if record.viscosity_cold is not None:
        points.insert(0, (COLD, float(record.viscosity_cold)))
    return Oil(viscosities=tuple(points), density=float(record.density), name=name)


def material_of(job: Job, line: DiscLine) -> Material:
    """Return the material of a disc: named in its line, or the one in stock in that size."""
    every = job.programme.workshop.discs
    if ("disc sizes",) not in job.memo:
        # of two materials that come in one size the first in the list is meant
        job.memo["disc sizes",] = {s.size: n for n, m in reversed(list(every.items())) for s in m.sizes}
    found = job.memo["disc sizes",]
    assert isinstance(found, dict)
    name = line.material or found[line.size]
    m = every[name]
    return Material(
        youngs_modulus=float(m.youngs_modulus),
        poisson_ratio=float(m.poisson_ratio),
        density=float(m.density),
        fatigue_strength=float(m.fatigue_strength),
        name=name,
    )


def disc_of(job: Job, line: DiscLine) -> Disc:
    """Return one disc of a line as mechanics takes it."""
    return Disc(radius=0.5 * line.diameter, thickness=line.thickness, material=material_of(job, line))


def _length(value: Any, otherwise: float = 0.0) -> float:
    return otherwise if value is None else float(value)


def _body(job: Job, damper: Any) -> Body:
    b = damper.body
    r = b.reservoir
    reservoir = None
    if r is not None:
        head = damper.valves.reservoir
        reservoir = Reservoir(
            bore=float(r.bore),
            length=float(r.length),
            wall=float(r.wall),
            valving=None if head is None else _valving(job, head),
            hose=None if r.hose_bore is None else Hose(diameter=float(r.hose_bore), length=float(r.hose_length)),
        )
    return Body(
        architecture=b.architecture,
        bore=float(b.bore),
        rod=float(b.rod),
        stroke=float(damper.open_length) - float(damper.closed_length),
        length=float(b.length),
        oil=oil_of(job, b.oil),
        oil_volume=float(b.oil_volume),
        gas_pressure=float(b.gas_pressure),
        piston_length=float(b.piston_length),
        band_length=float(b.band_length),
        upper_length=None if b.upper_length is None else float(b.upper_length),
        wall=float(b.wall),
        inner_wall=_length(b.inner_wall, 0.0015),
        tube_bore=None if b.outer_bore is None else float(b.outer_bore),
        floating_piston_length=_length(b.floating_piston, 0.020),
        reservoir=reservoir,
        friction=None if b.friction is None else float(b.friction),
    )


def _valving(job: Job, group: Any) -> Valving:
    return Valving(
        compression=None if group.compression is None else _valve(job, group.compression),
        rebound=None if group.rebound is None else _valve(job, group.rebound),
        bleed=tuple(
            Bleed(diameter=hole.holes.diameter, count=hole.holes.count, length=_length(hole.length))
            for hole in group.bleed
        ),
    )


def _valve(job: Job, valve: Any) -> Valve:
    p = valve.ports
    recess = None
    if p.recess_inner is not None and p.recess_outer is not None:
        recess = (0.5 * float(p.recess_inner), 0.5 * float(p.recess_outer))
    ports = Ports(
        count=p.holes.count,
        diameter=p.holes.diameter,
        length=float(p.length),
        circle=0.5 * float(p.circle),
        recess=recess,
    )
    if valve.plate is not None:
        return PlateValve(
            ports=ports,
            seat=0.5 * float(valve.seat),
            rate=float(valve.plate.rate),
            preload=float(valve.plate.preload),
            stop=float(valve.plate.stop),
        )
    washer = None
    if valve.washer is not None:
        washer = Washer(radius=0.5 * float(valve.washer.diameter), height=float(valve.washer.height))
    return StackValve(
        discs=tuple(disc_of(job, line) for line in valve.stack for _ in range(line.count or 1)),
        clamp=0.5 * float(valve.clamp),
        ports=ports,
        seat=0.5 * float(valve.seat),
        seat_height=_length(valve.seat_height),
        land=_length(valve.land),
        washer=washer,
        notch=_length(valve.notch),
    )


@dataclass(frozen=True, kw_only=True)
class Change:
    """One change between two builds: where, and in words."""

    where: str
    words: str

    def __str__(self) -> str:
        return f"{self.where}: {self.words}"


def changes(old: DamperBuild, new: DamperBuild) -> tuple[Change, ...]:
    """Return what was changed inside a damper, in words of the workshop; empty for equal builds.

    Discs are matched in order: what stands in both lists in the same order was left in, the rest was swapped, added
    or taken out. Positions count from the seat.
    """
    out = [Change(where="body", words=w) for w in _body_changes(old.body, new.body)]
    for place in ("piston", "foot", "reservoir"):
        before, after = old.valving(place), new.valving(place)
        if before is None and after is None:
            continue
        before, after = before or Valving(), after or Valving()
        for sense in ("compression", "rebound"):
            where = sense if place == "piston" else f"{place} {sense}"
            out += [Change(where=where, words=w) for w in _valve_changes(before.valve(sense), after.valve(sense))]
        if before.bleed != after.bleed:
            where = "bleed" if place == "piston" else f"{place} bleed"
            out.append(Change(where=where, words=f"{_bleed(before.bleed)} changed to {_bleed(after.bleed)}"))
    return tuple(out)


_BODY_WORDS = (
    ("architecture", "architecture", 0.0, ""), ("bore", "bore", 1e3, " mm"), ("rod", "rod", 1e3, " mm"),
    ("tube_bore", "outer tube", 1e3, " mm"), ("stroke", "stroke", 1e3, " mm"), ("length", "tube length", 1e3, " mm"),
    ("oil_volume", "oil", 1e6, " cm³"), ("gas_pressure", "gas", 1e-5, " bar"),
)  # fmt: skip


def _body_changes(old: Body, new: Body) -> Iterator[str]:
    for field, words, scale, unit in _BODY_WORDS:
        a, b = getattr(old, field), getattr(new, field)
        if a != b:
            shown = [str(v).replace("_", " ") if not scale or v is None else f"{v * scale:g}" for v in (a, b)]
            yield f"{words} {shown[0]} to {shown[1]}{unit}"
    if old.oil.name != new.oil.name:
        yield f"{old.oil.name} changed to {new.oil.name}"


def _bleed(bleed: tuple[Bleed, ...]) -> str:
    return (
        " and ".join((f"{b.count} of " if b.count > 1 else "") + f"{b.diameter * 1e3:.1f} mm" for b in bleed) or "none"
    )


def _valve_changes(old: Valve | None, new: Valve | None) -> Iterator[str]:
    if old == new:
        return
    if old is None or new is None:
        yield "valve added" if old is None else "valve taken out"
        return
    if isinstance(old, StackValve) and isinstance(new, StackValve):
        yield from _disc_changes(old.discs, new.discs)
        for field, words in (("clamp", "clamp"), ("seat", "seat")):
            a, b = getattr(old, field), getattr(new, field)
            if a != b:
                yield f"{words} {2e3 * a:g} to {2e3 * b:g} mm"
        for field, words, scale, unit in (
            ("seat_height", "seat height", 1e3, "mm"), ("land", "seat land", 1e3, "mm"), ("notch", "notch", 1e6, "mm²"),
        ):  # fmt: skip
            a, b = getattr(old, field), getattr(new, field)
            if a != b:
                yield f"{words} {a * scale:g} to {b * scale:g} {unit}"
        if old.washer != new.washer:
            yield "backing washer changed"
    elif isinstance(old, PlateValve) and isinstance(new, PlateValve):
        if (old.rate, old.preload, old.stop, old.seat) != (new.rate, new.preload, new.stop, new.seat):
            yield (
                f"plate of {old.rate / 1e3:g} N/mm, {old.preload:g} N, {old.stop * 1e3:g} mm changed to "
                f"{new.rate / 1e3:g} N/mm, {new.preload:g} N, {new.stop * 1e3:g} mm"
            )
    else:
        yield "plate replaced by a stack" if isinstance(new, StackValve) else "stack replaced by a plate"
    if old.ports != new.ports:
        yield f"ports {_ports(old.ports)} changed to {_ports(new.ports)}"


def _ports(ports: Ports) -> str:
    return f"{ports.count} of {ports.diameter * 1e3:g} mm"


_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


def _ordinal(index: int) -> str:
    return _ORDINALS[index] if index < len(_ORDINALS) else f"{index + 1}th"


def _words(disc: Disc) -> str:
    return disc_words(disc.thickness, 2.0 * disc.radius)


def _several(discs: tuple[Disc, ...]) -> str:
    parts: list[tuple[str, int]] = []
    for disc in discs:
        if parts and parts[-1][0] == _words(disc):
            parts[-1] = (parts[-1][0], parts[-1][1] + 1)
        else:
            parts.append((_words(disc), 1))
    return ", ".join(f"{n} of {w}" if n > 1 else w for w, n in parts)


def _disc_changes(old: tuple[Disc, ...], new: tuple[Disc, ...]) -> Iterator[str]:
    if len(old) == len(new):
        # a swap in place is what the workshop does most; said disc by disc
        swapped = [i for i, (a, b) in enumerate(zip(old, new, strict=True)) if a != b]
        if len(swapped) <= 3:
            pairs: dict[tuple[str, str], list[int]] = {}
            for i in swapped:
                pairs.setdefault((_words(old[i]), _words(new[i])), []).append(i)
            for (was, now), places in pairs.items():
                yield f"{' and '.join(_ordinal(i) for i in places)} {was} swapped for {now}"
            return
    for tag, a, b, c, d in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if tag == "insert":
            after = f"after the {_ordinal(a - 1)}" if a else "on the seat"
            yield f"{_several(new[c:d])} added {after}"
        elif tag == "delete":
            yield f"{_ordinal(a)} {_several(old[a:b])} taken out"
        elif tag == "replace":
            yield f"{_ordinal(a)} {_several(old[a:b])} swapped for {_several(new[c:d])}"
