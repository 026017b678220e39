"""From a damper as drawn to one that computes: uncertain parameters, lift tables solved once a stack, assembly."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from types import MappingProxyType

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats
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
from tussock.mechanics.dampers.curve import ForceCurve
from tussock.mechanics.dampers.hydraulics import (
    BandGap,
    Damper,
    DiscValve,
    MonoTube,
    Orifice,
    QuasiStatic,
    RemoteReservoir,
    TwinTube,
    ValveSet,
    solve,
    velocity_grid,
)
from tussock.mechanics.dampers.lifts import LiftTable, LiftTables
from tussock.mechanics.dampers.stack import Port, Seat, Stack
from tussock.mechanics.dampers.stack.parts import LEAST_OVERHANG

__all__ = [
    "RANGES",
    "Bleed",
    "Body",
    "DamperBuild",
    "LiftTable",
    "LiftTables",
    "Parameters",
    "PlateValve",
    "Ports",
    "Reservoir",
    "StackValve",
    "Valve",
    "Valving",
    "assemble",
    "curve_at",
    "force_at",
    "stack_of",
]

#: A lift table ends where the curtain is this many times the port: further lift changes the flow by about 1 %.
WIDE_OPEN = 6.0


@dataclass(frozen=True, kw_only=True)
class Parameters:
    """What no drawing tells: one set for all dampers of a house, found by calibration.

    Parameters
    ----------
    curtain_discharge : float
        Discharge coefficient of the curtain between disc and seat at high Reynolds numbers [-]; in thick oil and at
        small lifts slow flow takes its share, see `DiscValve`.
    port_factor : float
        Working area of the ports over the drilled one [-]; their discharge follows the short-tube law.
    bleed_factor : float
        The same for bleeds and notches [-].
    band_gap : float
        Radial gap between the piston's band and the bore [m].
    seat_offset : float
        Added to the height of every stack's seat [m]: what preload differs from the drawing. It changes the lift
        tables; no other parameter does.
    jet_coefficient : float
        Momentum force on the discs over rho Q^2 / port area [-].
    seal_friction : float
        Coulomb friction of seal, guide and band, where the body states none [N].
    delay : float
        Time constant with which discs follow the pressure [s]; only in cycles, not in steady flow.

    Raises
    ------
    DomainError
        If a value lies outside what `RANGES` calls possible.

    Examples
    --------
    >>> Parameters(curtain_discharge=0.65).changed(band_gap=0.02e-3).band_gap
    2e-05
    """

    curtain_discharge: float = 0.70
    port_factor: float = 1.0
    bleed_factor: float = 1.0
    band_gap: float = 0.03e-3
    seat_offset: float = 0.0
    jet_coefficient: float = 0.10
    seal_friction: float = 25.0
    delay: float = 0.0005

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        for one in fields(self):
            value, (least, most) = getattr(self, one.name), RANGES[one.name]
            if not (math.isfinite(value) and least <= value <= most):
                raise DomainError(
                    f"parameter {one.name.replace('_', ' ')} is {value:g}; it lies from {least:g} to {most:g} (SI)"
                )

    def changed(self, **values: float) -> Parameters:
        """Return a copy with some values replaced."""
        return replace(self, **values)


#: Least and most of each parameter in SI: plausible from practice and text books (curtain 0.5 to 0.9, band gap some
#: hundredths of a millimetre, seat height to a tenth, friction of gas dampers 10 to 150 N); from memory, no one source.
RANGES: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "curtain_discharge": (0.4, 1.0),
        "port_factor": (0.5, 1.3),
        "bleed_factor": (0.4, 1.6),
        "band_gap": (0.002e-3, 0.12e-3),
        "seat_offset": (-0.10e-3, 0.10e-3),
        "jet_coefficient": (0.0, 0.4),
        "seal_friction": (0.0, 200.0),
        "delay": (1e-5, 0.01),
    }
)


def stack_of(valve: StackValve, parameters: Parameters | None = None) -> Stack:
    """Return the stack that the solver takes: spacers become gaps, ports become loads.

    Parameters
    ----------
    valve : StackValve
    parameters : Parameters, optional
        Its seat offset is added to the seat's height.

    Raises
    ------
    DomainError
        If the stack cannot be built.
    """
    offset = 0.0 if parameters is None else parameters.seat_offset
    discs, gaps = [valve.discs[0]], []
    gap = 0.0
    for disc in valve.discs[1:]:
        if disc.radius < valve.clamp + LEAST_OVERHANG - 1e-12:
            gap += disc.thickness
        else:
            discs.append(disc)
            gaps.append(gap)
            gap = 0.0
    inner, outer = valve.ports.ring
    edge = valve.seat - valve.land
    ports = [Port(inner=inner, outer=outer, share=valve.ports.share, outer_share=valve.ports.share)]
    if valve.land > 0.0 and outer >= edge - 1e-9:
        # pressure falls over the flat land
        ports.append(Port(inner=outer, outer=valve.seat, share=valve.ports.share, outer_share=0.0))
    return Stack(
        discs=tuple(discs),
        clamp_radius=valve.clamp,
        ports=tuple(ports),
        seats=(Seat(radius=valve.seat, height=valve.seat_height + offset),),
        gaps=tuple(gaps),
        washer=valve.washer,
    )


def _valve(valve: Valve, parameters: Parameters, lifts: LiftTables, name: str) -> DiscValve:
    drilled = valve.ports
    port = Orifice(
        area=parameters.port_factor * drilled.area, count=drilled.count, length=drilled.length, name=f"{name} ports"
    )
    inner, outer = drilled.ring
    pressed = math.pi * (outer**2 - inner**2) * drilled.share
    if isinstance(valve, PlateValve):
        return DiscValve.from_spring(
            port=port, seat_diameter=2.0 * valve.seat, rate=valve.rate, preload=valve.preload, stop=valve.stop,
            curtain_discharge=parameters.curtain_discharge, creeping=True, delay=parameters.delay, name=name,
        )  # fmt: skip
    # of the drilled area, so that no parameter but the seat's offset changes the table
    enough = WIDE_OPEN * drilled.area / (2.0 * math.pi * valve.seat)
    table = lifts.of(stack_of(valve, parameters), enough)
    notch = None
    if valve.notch > 0.0:
        notch = Orifice(area=parameters.bleed_factor * valve.notch, name=f"{name} notch")
    return DiscValve(
        port=port, seat_diameter=2.0 * valve.seat, pressure=table.pressure, lift=table.lift,
        opening_pressure=table.opening, curtain_discharge=parameters.curtain_discharge,
        creeping=True, jet_coefficient=parameters.jet_coefficient, pressed_area=pressed, land=valve.land, notch=notch,
        delay=parameters.delay, stopped=table.stopped, name=name,
    )  # fmt: skip


def _set(
    group: Valving, parameters: Parameters, lifts: LiftTables, *, name: str, where: str, band: BandGap | None
) -> ValveSet:
    made: dict[str, DiscValve | None] = {"compression": None, "rebound": None}
    for sense, valve in (("compression", group.compression), ("rebound", group.rebound)):
        if valve is not None:
            try:
                made[sense] = _valve(valve, parameters, lifts, f"{where} {sense}")
            except (DomainError, SolverError) as error:
                raise type(error)(f"{name}, {where} {sense}: {error}") from None
    bleeds = tuple(
        Orifice(area=parameters.bleed_factor * hole.area, count=hole.count, length=hole.length, name=f"{where} bleed")
        for hole in group.bleed
    )
    return ValveSet(
        compression=made["compression"], rebound=made["rebound"], bleed=bleeds, band=band, name=f"{name}, {where}"
    )


def assemble(build: DamperBuild, *, parameters: Parameters | None = None, lifts: LiftTables | None = None) -> Damper:
    """Return the damper that the hydraulics compute with.

    Parameters
    ----------
    build : DamperBuild
    parameters : Parameters, optional
        The defaults unless given.
    lifts : LiftTables, optional
        Memory of solved stacks; with one, a stack is solved once however often it is assembled.

    Returns
    -------
    Damper

    Raises
    ------
    DomainError
        If the build cannot be; the text names damper, valve and numbers.
    SolverError
        If a stack cannot be solved; likewise.
    """
    p = Parameters() if parameters is None else parameters
    memory = LiftTables() if lifts is None else lifts
    body, name = build.body, build.name
    band = BandGap(diameter=body.bore, gap=p.band_gap, length=body.band_length)
    piston = _set(build.piston, p, memory, name=name, where="piston", band=band)
    friction = p.seal_friction if body.friction is None else body.friction
    if build.foot is not None and body.tube_bore is not None:
        return TwinTube(
            bore=body.bore, rod=body.rod, stroke=body.stroke, length=body.length, oil=body.oil, piston=piston,
            oil_volume=body.oil_volume, gas_pressure=body.gas_pressure, gas_exponent=body.gas_exponent,
            gas_temperature=body.gas_temperature, piston_length=body.piston_length, upper_length=body.upper_length,
            wall=body.wall, friction=friction, cavitation_pressure=body.cavitation_pressure, name=name,
            tube_bore=body.tube_bore, inner_wall=body.inner_wall,
            foot=_set(build.foot, p, memory, name=name, where="foot", band=None),
        )  # fmt: skip
    remote = None
    if body.reservoir is not None:
        r = body.reservoir
        head = None if r.valving is None else _set(r.valving, p, memory, name=name, where="reservoir", band=None)
        remote = RemoteReservoir(bore=r.bore, length=r.length, wall=r.wall, valves=head, hose=r.hose)
    return MonoTube(
        bore=body.bore, rod=body.rod, stroke=body.stroke, length=body.length, oil=body.oil, piston=piston,
        oil_volume=body.oil_volume, gas_pressure=body.gas_pressure, gas_exponent=body.gas_exponent,
        gas_temperature=body.gas_temperature, piston_length=body.piston_length, upper_length=body.upper_length,
        wall=body.wall, friction=friction, cavitation_pressure=body.cavitation_pressure, name=name,
        floating_piston_length=body.floating_piston_length, remote=remote,
    )  # fmt: skip


def force_at(
    build: DamperBuild,
    velocities: Floats | None = None,
    *,
    temperature: float = 293.15,
    position: float = 0.0,
    parameters: Parameters | None = None,
    lifts: LiftTables | None = None,
) -> QuasiStatic:
    """Return pressures, force and every part's share of it at steady rod speeds.

    Parameters
    ----------
    build : DamperBuild
    velocities : array (n,), optional
        Rising [m/s], within +-10, positive in compression; `hydraulics.velocity_grid()` unless given.
    temperature : float
        Of oil and gas [K].
    position : float
        Of the piston [m], 0 in mid-stroke, positive inwards.
    parameters, lifts
        As of `assemble`.

    Raises
    ------
    DomainError, SolverError
        As of `assemble` and `hydraulics.solve`.
    """
    damper = assemble(build, parameters=parameters, lifts=lifts)
    return solve(damper, velocities=velocities, temperature=temperature, position=position)


def curve_at(
    build: DamperBuild,
    *,
    temperature: float = 293.15,
    parameters: Parameters | None = None,
    lifts: LiftTables | None = None,
    most: float = 2.0,
) -> ForceCurve:
    """Return the force curve of a build to `most` m/s at an oil temperature [K], without gas force and friction."""
    # fine enough for the knee where a preloaded stack opens
    grid = velocity_grid(most=most, points=241)
    return force_at(build, grid, temperature=temperature, parameters=parameters, lifts=lifts).force_curve()
