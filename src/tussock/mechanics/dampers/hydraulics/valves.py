"""Disc valves with their port, and the set of paths through one piston or foot valve.

Every path is written over the *effective pressure* on the discs (drop over the curtain plus jet force over the pressed
area): lift, flow and total drop then follow without iteration, and all rise together.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal, TypeAlias

import numpy as np
from scipy.interpolate import PchipInterpolator

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.hydraulics.kernels import pressures
from tussock.mechanics.dampers.hydraulics.oil import OilState
from tussock.mechanics.dampers.hydraulics.restrictions import SHORT_TUBE_LIMIT, BandGap, Orifice, short_tubes

Sense: TypeAlias = Literal["compression", "rebound"]

#: Drop of slow flow through a slit over mu Q / (edge length h^2) [-].
CREEPING_SLIT = 32.0 / math.pi

# Effective pressures between which every solution lies [Pa].
_LEAST, _MOST = 1e-14, 1e16
_ENDS = np.log(np.array([_LEAST, _MOST]))
_NONE = np.array([0.0, 1.0])


@dataclass(frozen=True, kw_only=True, eq=False)
class ValveFlow:
    """What a disc valve does at effective pressures; arrays of one shape."""

    lift: Floats  # [m]
    curtain_flow: Floats  # [m3/s]
    notch_flow: Floats  # [m3/s]
    port_drop: Floats  # [Pa]
    curtain_drop: Floats  # [Pa]

    @property
    def flow(self) -> Floats:
        """Flow through the port [m3/s]."""
        return np.asarray(self.curtain_flow + self.notch_flow)

    @property
    def drop(self) -> Floats:
        """Drop over port and curtain [Pa]."""
        return np.asarray(self.port_drop + self.curtain_drop)


@dataclass(frozen=True, kw_only=True, eq=False)
class DiscValve:
    """Discs (or a sprung plate) over a seat, fed by a port; oil passes one way only.

    Parameters
    ----------
    port : Orifice
        Holes that lead to the seat, in series with the curtain.
    seat_diameter : float
        Of the seat's edge where the curtain stands [m].
    pressure : array (n,)
        Pressure over the discs [Pa], rising; the solved stack's table.
    lift : array (n,)
        Lift at the seat there [m], not falling.
    opening_pressure : float
        Below it the discs stay on the seat [Pa].
    curtain_discharge : float
        Discharge coefficient of the curtain [-].
    area_factor : float
        Share of the seat's circumference that flows [-] (a named parameter in arXiv:2208.06343; 0.5 in a thesis, from
        memory, low confidence).
    jet_coefficient : float
        Momentum force over rho Q^2 / A_port [-] (0.3 in a thesis, from memory, low confidence); 0 leaves it out.
    pressed_area : float, optional
        Area that the pressure acts on, for the jet force [m2]; the seat's disc unless given.
    land : float
        Radial width of the flat seat land [m]; adds the viscous drop of a thin film, 0 leaves it out.
    creeping : bool
        Whether the curtain's discharge falls with the Reynolds number, as it does in cold oil and at small lifts:
        `curtain_discharge` is then its value at high numbers, and 32 mu Q/(pi w h^2) of slow flow through a slit
        (lift h, edge length w) adds to the drop, 1/C_d^2 = 1/C^2 + 40.7/Re with Re on twice the lift.
    notch : Orifice, optional
        Bleed past the closed discs, fed by the same port.
    delay : float
        Time constant with which the discs follow the pressure [s]; only in the dynamic model.
    stopped : bool
        The table ends where the discs meet a stop; holding the last lift beyond it is then right and not reported.
    name : str
        For messages.

    Raises
    ------
    DomainError
        If the table is not one, a size cannot be, or the jet force is so strong that the discs would snap open (flow
        or drop would fall while the discs lift).

    Notes
    -----
    Beyond the table the last lift stays; results say where that happened.

    References
    ----------
    .. [1] M. G. Rabie, Fluid Power Engineering, McGraw-Hill 2009, eq. 2.24 (film between nozzle and plate).
    .. [2] Talbott and Starkey, SAE 2002-01-3337; Farjoud et al., Nonlinear Dynamics 67 (2012) 1437-1456: port and
       curtain in series, momentum force (from memory).
    .. [3] Slow flow through a slit, Q = pi w h^2 dp/(32 mu): H. Hasimoto, J. Phys. Soc. Japan 13 (1958) 633; W. Wuest
       1954, as C_d = 0.157 sqrt(Re) in Merritt 1967 (each from memory, and they agree).
    """

    port: Orifice
    seat_diameter: float
    pressure: Floats
    lift: Floats
    opening_pressure: float = 0.0
    curtain_discharge: float = 0.7
    area_factor: float = 1.0
    jet_coefficient: float = 0.0
    pressed_area: float | None = None
    land: float = 0.0
    creeping: bool = False
    notch: Orifice | None = None
    delay: float = 0.0005
    stopped: bool = False
    name: str = "valve"

    def __post_init__(self) -> None:
        """Refuse a valve that cannot be."""
        for key in ("pressure", "lift"):
            own = np.array(getattr(self, key), dtype=np.float64)
            own.setflags(write=False)
            object.__setattr__(self, key, own)
        p, y = self.pressure, self.lift
        if p.ndim != 1 or p.shape != y.shape or p.size < 2:
            raise DomainError(
                f"{self.name}: {p.size} pressures and {y.size} lifts; as many of each, at least 2, are needed"
            )
        if not (np.all(np.isfinite(p)) and np.all(np.isfinite(y))):
            raise DomainError(f"{self.name}: the lift table holds a value that is not a number")
        if np.any(np.diff(p) <= 0.0) or p[0] < 0.0:
            raise DomainError(f"{self.name}: pressures of the lift table must rise from 0 or more")
        if np.any(np.diff(y) < 0.0) or y[0] < 0.0 or y[-1] <= 0.0:
            raise DomainError(f"{self.name}: lifts must not fall nor be below 0, and the last must be above 0")
        if not 0.0 <= self.opening_pressure < p[-1]:
            raise DomainError(
                f"{self.name}: opening pressure {self.opening_pressure / 1e6:g} MPa; it must lie from "
                "0 to below the last "
                f"pressure of the lift table, {p[-1] / 1e6:g} MPa"
            )
        if not (math.isfinite(self.seat_diameter) and self.seat_diameter > 0.0):
            raise DomainError(f"{self.name}: seat diameter {self.seat_diameter * 1e3:g} mm must be above 0")
        for key in ("curtain_discharge", "area_factor"):
            if not 0.0 < getattr(self, key) <= 1.0:
                raise DomainError(
                    f"{self.name}: {key.replace('_', ' ')} {getattr(self, key):g} lies above 0 and at most at 1"
                )
        if self.jet_coefficient < 0.0 or self.land < 0.0 or self.delay <= 0.0:
            raise DomainError(
                f"{self.name}: jet coefficient {self.jet_coefficient:g} and land {self.land * 1e3:g} "
                "mm must not be below 0, "
                f"the delay {self.delay:g} s above it"
            )
        if self.pressed_area is not None and not self.pressed_area > 0.0:
            raise DomainError(f"{self.name}: pressed area {self.pressed_area * 1e6:g} mm2 must be above 0")
        if 2.0 * self.land >= self.seat_diameter:
            raise DomainError(
                f"{self.name}: a land {self.land * 1e3:g} mm wide leaves no seat of {self.seat_diameter * 1e3:g} mm"
            )
        self._refuse_snap()

    @classmethod
    def from_spring(
        cls,
        *,
        port: Orifice,
        seat_diameter: float,
        rate: float,
        preload: float,
        stop: float,
        pressed_area: float | None = None,
        curtain_discharge: float = 0.7,
        creeping: bool = False,
        area_factor: float = 1.0,
        jet_coefficient: float = 0.0,
        delay: float = 0.0005,
        name: str = "valve",
    ) -> DiscValve:
        """Return a plate on a linear spring up to a stop, such as a check valve: k y + F_0 = dp A_s + F_jet.

        Parameters
        ----------
        rate : float
            [N/m].
        preload : float
            Spring force on the seat [N].
        stop : float
            Largest lift [m].
        pressed_area : float, optional
            [m2]; the seat's disc unless given.

        Raises
        ------
        DomainError
            If rate or stop are not above 0, or the preload is below 0.
        """
        if not (rate > 0.0 and stop > 0.0 and preload >= 0.0):
            raise DomainError(
                f"{name}: rate {rate / 1e3:g} N/mm and stop {stop * 1e3:g} mm must be above 0, "
                f"preload {preload:g} N not below"
            )
        area = math.pi * seat_diameter**2 / 4.0 if pressed_area is None else pressed_area
        opening = preload / area
        full = (preload + rate * stop) / area
        return cls(
            port=port, seat_diameter=seat_diameter, pressure=np.array([opening, full]), lift=np.array([0.0, stop]),
            opening_pressure=opening, curtain_discharge=curtain_discharge, creeping=creeping, area_factor=area_factor,
            jet_coefficient=jet_coefficient, pressed_area=area, delay=delay, stopped=True, name=name,
        )  # fmt: skip

    @cached_property
    def _curve(self) -> PchipInterpolator | None:
        """Lift over pressure from the opening pressure on; none for a straight line."""
        keep = self.pressure > self.opening_pressure
        p = np.concatenate([[self.opening_pressure], self.pressure[keep]])
        y = np.concatenate([[self._least_lift], self.lift[keep]])
        return PchipInterpolator(p, y) if p.size > 2 else None

    @cached_property
    def pieces(self) -> tuple[Floats, Floats]:
        """Breakpoints of lift over pressure and coefficients of its cubics, as `kernels` takes them."""
        if self._curve is not None:
            return np.ascontiguousarray(self._curve.x), np.ascontiguousarray(self._curve.c)
        low, high, least = self.opening_pressure, float(self.pressure[-1]), self._least_lift
        slope = (float(self.lift[-1]) - least) / (high - low)
        return np.array([low, high]), np.array([[0.0], [0.0], [slope], [least]])

    def figures(self, oil: OilState) -> Floats:
        """Return what `kernels.total_flow` wants of the valve and its port."""
        edge = math.pi * self.seat_diameter * self.area_factor
        film = 12.0 * oil.viscosity * self.land / (math.pi * (self.seat_diameter - self.land) * self.area_factor)
        slow = CREEPING_SLIT * oil.viscosity / edge if self.creeping else 0.0
        port = self.port
        plain = 1.0 / port.discharge**2 if port.length == 0.0 else 0.0
        return np.array([
            0.5 * oil.density, self._jet, film, slow, self.curtain_discharge * edge, port.area, plain,
            0.0 if port.length == 0.0 else float(port.number(1.0, oil)), float(self.notch is not None),
        ])  # fmt: skip

    @property
    def _least_lift(self) -> float:
        """Lift where the valve begins to open [m]; above 0 only where the table starts so at no pressure."""
        return 0.0 if self.opening_pressure > 0.0 or self.pressure[0] > 0.0 else float(self.lift[0])

    @property
    def _acted(self) -> float:
        return math.pi * self.seat_diameter**2 / 4.0 if self.pressed_area is None else self.pressed_area

    @property
    def _jet(self) -> float:
        """Jet's share of pressure over rho/2 Q^2 [1/m4]."""
        return 2.0 * self.jet_coefficient / (self.port.area * self._acted)

    def lift_at(self, pressure: Floats | float) -> Floats:
        """Return the lift [m] at an effective pressure [Pa]; 0 below opening, the last lift beyond the table."""
        p = np.asarray(pressure, dtype=float)
        low, high = self.opening_pressure, float(self.pressure[-1])
        inside = np.clip(p, low, high)
        if self._curve is None:
            least = self._least_lift
            return np.asarray(least + (self.lift[-1] - least) * (inside - low) / (high - low))
        return np.asarray(np.maximum(self._curve(inside), 0.0))

    @np.errstate(divide="ignore", invalid="ignore")
    def at(self, pressure: Floats, oil: OilState) -> ValveFlow:
        """Return lift, flows and drops at effective pressures [Pa], above 0."""
        lift = self.lift_at(pressure)
        area = self.area_factor * math.pi * self.seat_diameter * lift
        jet, half = self._jet, 0.5 * oil.density
        square = half * (1.0 / (self.curtain_discharge * area) ** 2 + jet)
        if self.land > 0.0 or self.creeping:
            # eq. 2.24 with the land's mean diameter: 12 mu land / (pi d h^3)
            mean = math.pi * (self.seat_diameter - self.land) * self.area_factor
            linear = 12.0 * oil.viscosity * self.land / (mean * lift**3)
            if self.creeping:
                edge = math.pi * self.seat_diameter * self.area_factor
                linear = linear + CREEPING_SLIT * oil.viscosity / (edge * lift**2)
            flow = 2.0 * pressure / (linear + np.sqrt(linear**2 + 4.0 * square * pressure))
        else:
            flow = np.sqrt(pressure / square)
        flow = np.where(lift > 0.0, flow, 0.0)
        curtain_drop = pressure - half * jet * flow**2
        notch = self.notch.flow(curtain_drop, oil) if self.notch is not None else np.zeros_like(flow)
        return ValveFlow(
            lift=lift,
            curtain_flow=flow,
            notch_flow=notch,
            port_drop=self.port.drop(flow + notch, oil),
            curtain_drop=curtain_drop,
        )

    def _refuse_snap(self) -> None:
        """Refuse a jet that lifts the discs faster than flow and drop rise: such a valve has several answers."""
        if self.jet_coefficient == 0.0:
            return
        best = self.port.discharge if self.port.length == 0.0 else SHORT_TUBE_LIMIT
        smooth = OilState(temperature=293.15, density=850.0, viscosity=1e-9)
        start, end = max(self.opening_pressure, 1.0), 4.0 * float(self.pressure[-1])
        grid = np.sort(np.concatenate([np.linspace(start, end, 400), np.geomspace(start, end, 200)]))
        bare = DiscValve.at(self, grid, smooth)
        through = 0.5 * smooth.density * (bare.flow / (best * self.port.area)) ** 2
        total = through + bare.curtain_drop
        bad = (np.diff(total) < 0.0) | (np.diff(bare.flow) < 0.0)
        if np.any(bad):
            at = float(grid[int(np.argmax(bad))])
            raise DomainError(
                f"{self.name}: with jet coefficient {self.jet_coefficient:g}, a port of "
                f"{self.port.area * 1e6:.1f} mm2 and a "
                f"pressed area of {self._acted * 1e6:.1f} mm2 the jet snaps the discs open near "
                f"{at / 1e6:.3g} MPa; a smaller "
                "coefficient or a larger pressed area is needed"
            )


@dataclass(frozen=True, kw_only=True, eq=False)
class PathState:
    """Flow and drop of every path of a `ValveSet` in one sense; arrays (n,)."""

    drop: Floats  # over the set [Pa]
    effective: Floats  # on the discs [Pa]
    lift: Floats  # [m]
    flows: dict[str, Floats]  # by path: bleed, band, valve, notch [m3/s]
    power: dict[str, Floats]  # turned into heat by part: bleed, band, port, curtain, notch [W]
    beyond_table: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]  # lift held at the table's end


@dataclass(frozen=True, kw_only=True, eq=False)
class ValveSet:
    """All paths through one piston, foot valve or reservoir head.

    Parameters
    ----------
    compression, rebound : DiscValve, optional
        The valve that opens in that sense of flow; it is shut in the other.
    bleed : tuple of Orifice
        Always open, both ways.
    band : BandGap, optional
        Leak past a piston's band.
    name : str
        For messages.
    """

    compression: DiscValve | None = None
    rebound: DiscValve | None = None
    bleed: tuple[Orifice, ...] = field(default=())
    band: BandGap | None = None
    name: str = "piston"

    def __post_init__(self) -> None:
        """Refuse a set through which no oil can go."""
        for sense in ("compression", "rebound"):
            if getattr(self, sense) is None and not self.bleed and self.band is None:
                raise DomainError(
                    f"{self.name}: no path for oil in {sense}; a valve, a bleed or a band gap is needed, else it locks"
                )

    def valve(self, sense: Sense) -> DiscValve | None:
        """Return the valve that opens in a sense of flow."""
        return self.compression if sense == "compression" else self.rebound

    def at(self, effective: Floats, oil: OilState, *, sense: Sense) -> PathState:
        """Return all paths at effective pressures on the discs [Pa] (the drop itself where there is no valve)."""
        valve = self.valve(sense)
        zero = np.zeros_like(effective)
        flows: dict[str, Floats] = {}
        power: dict[str, Floats] = {}
        if valve is None:
            drop, lift, beyond = effective, zero, np.zeros(effective.shape, dtype=np.bool_)
        else:
            one = valve.at(effective, oil)
            drop, lift, beyond = one.drop, one.lift, (effective > valve.pressure[-1]) & (not valve.stopped)
            flows["valve"] = one.curtain_flow
            power["port"] = one.port_drop * one.flow
            power["curtain"] = one.curtain_drop * one.curtain_flow
            if valve.notch is not None:
                flows["notch"] = one.notch_flow
                power["notch"] = one.curtain_drop * one.notch_flow
        if self.bleed:
            flows["bleed"] = np.asarray(sum((hole.flow(drop, oil) for hole in self.bleed), zero))
            power["bleed"] = flows["bleed"] * drop
        if self.band is not None:
            flows["band"] = self.band.flow(drop, oil)
            power["band"] = flows["band"] * drop
        return PathState(drop=drop, effective=effective, lift=lift, flows=flows, power=power, beyond_table=beyond)

    def solve(self, flow: Floats, oil: OilState, *, sense: Sense, dragged: Floats | float = 0.0) -> PathState:
        """Return the paths that together carry a flow.

        Parameters
        ----------
        flow : array (n,)
            Wanted through the set [m3/s], 0 or more.
        oil : OilState
        sense : {"compression", "rebound"}
        dragged : array (n,) or float
            Part of it that the moving bore wall carries past the band without any drop [m3/s].

        Returns
        -------
        PathState
            "band" holds the dragged flow too.

        Raises
        ------
        SolverError
            If the flow is not met to one part in 10^9.
        """
        wanted = np.asarray(flow, dtype=float)
        drag = np.broadcast_to(np.asarray(dragged, dtype=float), wanted.shape)
        need = np.maximum(wanted - drag, 0.0)
        live = need > 0.0
        log_p = np.full(wanted.shape, math.log(_LEAST))
        if np.any(live):
            log_p[live] = self._solve_live(need[live], oil, sense)
        # no flow wants no drop: evaluated at the least pressure, then set to rest
        state = self.at(np.exp(log_p), oil, sense=sense)
        keep = np.asarray(live, dtype=float)
        flows = {key: value * keep for key, value in state.flows.items()}
        power = {key: value * keep for key, value in state.power.items()}
        if self.band is not None:
            power["band"] = power["band"] + drag * state.drop * keep
            flows["band"] = flows["band"] + drag
        return PathState(
            drop=state.drop * keep,
            effective=state.effective * keep,
            lift=state.lift * keep,
            flows=flows,
            power=power,
            beyond_table=state.beyond_table,
        )

    def _solve_live(self, need: Floats, oil: OilState, sense: Sense) -> Floats:
        """Return ln of the effective pressures that carry flows above 0."""
        valve = self.valve(sense)
        figures, lift_x, lift_c, notch = np.empty(0), _NONE, np.zeros((4, 1)), np.zeros(3)
        if valve is not None:
            figures, (lift_x, lift_c) = valve.figures(oil), valve.pieces
            if valve.notch is not None:
                notch = valve.notch.figures(oil)
        holes = np.array([hole.figures(oil) for hole in self.bleed]).reshape(-1, 3)
        past = 0.0 if self.band is None else float(self.band.flow(1.0, oil))
        out = np.empty_like(need)
        pressures(np.ascontiguousarray(need), _ENDS, figures, lift_x, lift_c, notch, holes, past, *short_tubes(), out)
        lost = ~np.isfinite(out)
        if np.any(lost):
            raise SolverError(
                f"{self.name}, pressure at {sense} flow: {int(np.sum(lost))} of {out.size} flows not met, the first is "
                f"{float(need[lost][0]) * 6e4:.4g} L/min, from {_LEAST:g} to {_MOST:g} Pa"
            )
        return out
