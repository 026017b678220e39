"""The fast way from a few lifts to force: one disc valve of a damper, everything else as it is.

A stack is known at two or three pressures only. Between them it is taken to open like the present stack at a pressure
over a factor, so that opening and stiffening keep their shape; the factor goes from one screened pressure to the next.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, TypeAlias

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.hydraulics import Damper, DiscValve, OilState, ValveSet, solve
from tussock.mechanics.dampers.hydraulics.valves import CREEPING_SLIT, Sense

Part: TypeAlias = Literal["piston", "base"]

#: Logarithms of flow [m3/s] and drop [Pa] that the tables cover, and their number.
_FIRST, _LAST, _POINTS = math.log(1e-16), math.log(1e12), 1601
_LEAST, _MOST = 1e-9, 1e12
_SHAPE = 401


@dataclass(frozen=True, kw_only=True, eq=False)
class ValvePlace:
    """Where in a damper a stack sits: the valve of one part that opens in one sense of flow.

    Parameters
    ----------
    damper : TwinTube or MonoTube
        With the present stack.
    part : {"piston", "base"}
        Piston, or foot valve (a remote reservoir's head).
    sense : {"compression", "rebound"}
        Stroke in which it opens.
    temperature : float
        Of the oil [K].

    Raises
    ------
    DomainError
        If there is no such valve.
    """

    damper: Damper
    part: Part
    sense: Sense
    temperature: float = 293.15

    def __post_init__(self) -> None:
        """Refuse a place without a disc valve."""
        if self.part == "base" and self.damper.base is None:
            raise DomainError(f"{self.damper.name}: it has no foot valve and no valves at a reservoir")
        if self.valves.valve(self.sense) is None:
            raise DomainError(f"{self.damper.name}: the {self.part} has no disc valve that opens in {self.sense}")

    @property
    def valves(self) -> ValveSet:
        """All paths beside the valve."""
        chosen = self.damper.piston if self.part == "piston" else self.damper.base
        assert chosen is not None  # refused at the door
        return chosen

    @property
    def valve(self) -> DiscValve:
        """The valve itself."""
        found = self.valves.valve(self.sense)
        assert found is not None  # refused at the door
        return found

    @property
    def area(self) -> float:
        """Area on which the drop acts [m2]."""
        return self.damper.annulus_area if self.part == "piston" else self.damper.rod_area

    @cached_property
    def oil(self) -> OilState:
        """The oil at the temperature."""
        return self.damper.oil.at(self.temperature)

    def flows(self, speeds: Floats) -> Floats:
        """Return what the set must carry by pressure at rod speeds above 0 [m/s], in [m3/s]."""
        flow = self.area * speeds
        if self.part == "piston" and self.damper.piston.band is not None:
            flow = flow - self.damper.piston.band.drag_flow(1.0) * speeds
        return np.asarray(flow)

    @cached_property
    def _tables(self) -> tuple[Floats, Floats, Floats, Floats, float]:
        """Figures and tables as `kernels.drop_and_flow` takes them, and the grid's step."""
        valve, oil = self.valve, self.oil
        grid = np.linspace(_FIRST, _LAST, _POINTS)
        x = np.exp(grid)
        tiny = 1e-300
        port = np.log(np.maximum(valve.port.drop(x, oil), tiny))
        notch = np.zeros_like(x) if valve.notch is None else valve.notch.flow(x, oil)
        bypass = np.zeros_like(x)
        for hole in self.valves.bleed:
            bypass = bypass + hole.flow(x, oil)
        if self.valves.band is not None:
            bypass = bypass + self.valves.band.flow(x, oil)
        acted = math.pi * valve.seat_diameter**2 / 4.0 if valve.pressed_area is None else valve.pressed_area
        around = math.pi * valve.area_factor
        figures = np.array([
            oil.density, oil.viscosity, valve.curtain_discharge, around * valve.seat_diameter,
            2.0 * valve.jet_coefficient / (valve.port.area * acted), valve.land,
            around * (valve.seat_diameter - valve.land), float(valve.notch is not None), float(bool(bypass[-1] > 0.0)),
            CREEPING_SLIT * oil.viscosity / (around * valve.seat_diameter) if valve.creeping else 0.0,
        ])  # fmt: skip
        return (
            figures,
            port,
            np.log(np.maximum(notch, tiny)),
            np.log(np.maximum(bypass, tiny)),
            float(grid[1] - grid[0]),
        )

    @cached_property
    def _shape(self) -> tuple[float, float, Floats]:
        """Present stack's opening pressure, last pressure of its table and its lifts over an even grid of roots."""
        valve = self.valve
        low, top = valve.opening_pressure, float(valve.pressure[-1])
        grid = low + (top - low) * np.linspace(0.0, 1.0, _SHAPE) ** 2
        return low, top, np.maximum.accumulate(valve.lift_at(grid))

    def scales(self, pressures: Floats, lifts: Floats) -> Floats:
        """Return by what factor of pressure other stacks lag behind the present one's lift curve.

        Parameters
        ----------
        pressures : array (P,)
            Rising, above 0 [Pa].
        lifts : array (N, P)
            Lift of each stack there [m]; 0 is shut.

        Returns
        -------
        array (N, P)
            Pressure over the pressure at which the present stack lifts as far [-]. Where a stack is shut the factor of
            the next pressure that opens it holds; one that never opens is taken to open at the last pressure.
        """
        low, top, shape = self._shape
        grid = low + (top - low) * np.linspace(0.0, 1.0, _SHAPE) ** 2
        end = (shape[-1] - shape[-2]) / (grid[-1] - grid[-2])
        like = np.interp(lifts, shape, grid)
        like = np.where(lifts > shape[-1], top + (lifts - shape[-1]) / max(end, 1e-15), like)
        out = np.where(lifts > 0.0, pressures / np.maximum(like, 1.0), np.nan)
        out[np.isnan(out[:, -1]), -1] = pressures[-1] / max(low, 1e-3 * float(pressures[0]))
        for i in range(pressures.size - 2, -1, -1):
            shut = np.isnan(out[:, i])
            # shut there: at least so far behind that the present stack would be shut too
            out[shut, i] = np.maximum(out[shut, i + 1], pressures[i] / max(low, 1e-3 * float(pressures[0])))
        return out

    def drops(self, pressures: Floats, scales: Floats, speeds: Floats) -> Floats:
        """Return the drop over the set with other stacks [Pa].

        Parameters
        ----------
        pressures : array (P,)
            Rising, above 0 [Pa].
        scales : array (N, P)
            Of each stack, see `scales` [-]; infinite is shut for good.
        speeds : array (V,)
            Rod speeds above 0 [m/s].

        Returns
        -------
        array (N, V)
        """
        from tussock.mechanics.dampers.search import kernels  # compiles on first use only

        figures, port, notch, bypass, step = self._tables
        out = np.empty((scales.shape[0], speeds.size))
        kernels.drops(
            np.ascontiguousarray(pressures), np.ascontiguousarray(scales), *self._shape, self.flows(speeds), figures,
            _FIRST, step, port, notch, bypass, np.array([_LEAST, _MOST]), out,
        )  # fmt: skip
        return out

    def rest_of_force(self, speeds: Floats) -> Floats:
        """Return the force that the rest of the damper makes at rod speeds [N], a size: other valves of that stroke."""
        sign = 1.0 if self.sense == "compression" else -1.0
        v = np.sort(sign * speeds)
        state = solve(self.damper, velocities=v, temperature=self.temperature)
        force = np.interp(sign * speeds, v, state.hydraulic_force) * sign
        drag = 0.0
        if self.part == "piston" and self.damper.piston.band is not None:
            drag = self.damper.piston.band.drag_flow(1.0)
        own = self.valves.solve(self.area * speeds, self.oil, sense=self.sense, dragged=drag * speeds)
        return np.asarray(force - self.area * own.drop)

    def wanted_lifts(self, speeds: Floats, forces: Floats) -> tuple[Floats, Floats]:
        """Return effective pressure [Pa] and lift [m] that the discs need for forces (sizes, [N]) at rod speeds [m/s].

        A lift of 0 means that the other paths alone already let too much oil by.

        Raises
        ------
        DomainError
            If the rest of the damper alone makes more than a wanted force, or port and rest do.
        """
        drop = (np.asarray(forces) - self.rest_of_force(speeds)) / self.area
        need = self.flows(speeds)
        valve, oil = self.valve, self.oil
        pressure, lift = np.empty_like(drop), np.empty_like(drop)
        for i, (dp, q, v) in enumerate(zip(drop, need, speeds, strict=True)):
            if dp <= 0.0:
                raise DomainError(
                    f"{self.damper.name}: {float(np.asarray(forces)[i]):.0f} N at {v:g} m/s is less than the other "
                    "valves make alone; change those first"
                )
            past = float(sum((h.flow(dp, oil) for h in self.valves.bleed), np.zeros(())))
            if self.valves.band is not None:
                past += float(self.valves.band.flow(dp, oil))
            through = max(q - past, 0.0)
            curtain_drop = dp - float(valve.port.drop(through, oil))
            if curtain_drop <= 0.0:
                raise DomainError(
                    f"{self.damper.name}: {float(np.asarray(forces)[i]):.0f} N at {v:g} m/s is less than the port "
                    f"alone makes ({valve.port.area * 1e6:.0f} mm2); a larger port is needed, no disc helps"
                )
            own = through
            if valve.notch is not None:
                own = max(through - float(valve.notch.flow(curtain_drop, oil)), 0.0)
            figures = self._tables[0]
            half = 0.5 * oil.density
            pressure[i] = curtain_drop + half * figures[4] * own**2
            # land's film, slow and quick flow through the curtain: p = (A/y^3 + C/y^2) q + (B/y^2 + jet) q^2 for 1/y
            cubic = 12.0 * oil.viscosity * valve.land * own / figures[6] if valve.land > 0.0 else 0.0
            square = half * (own / (figures[2] * figures[3])) ** 2 + figures[9] * own
            if own == 0.0:
                lift[i] = 0.0
            elif cubic == 0.0:
                lift[i] = math.sqrt(square / curtain_drop)
            else:
                roots = np.roots([cubic, square, 0.0, -curtain_drop])
                lift[i] = 1.0 / float(np.max(roots[np.abs(roots.imag) < 1e-9 * np.abs(roots)].real))
        return pressure, lift
