"""Pressures and force at steady rod speeds: which restriction governs, what each adds, how near cavitation is."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.curve import ForceCurve
from tussock.mechanics.dampers.hydraulics.architecture import Damper
from tussock.mechanics.dampers.hydraulics.oil import ATMOSPHERE, OilState
from tussock.mechanics.dampers.hydraulics.restrictions import BandGap
from tussock.mechanics.dampers.hydraulics.roots import rising_root
from tussock.mechanics.dampers.hydraulics.valves import PathState, Sense

#: The largest rod speed that the solver takes [m/s].
FASTEST = 10.0


@dataclass(frozen=True, kw_only=True, eq=False)
class QuasiStatic:
    """Steady flow at each rod velocity; every array (n,), in the order of `velocity`.

    Pressures are absolute. Velocity and force: positive in compression and pushing the rod out.
    """

    name: str
    position: float  # of the piston [m], 0 in mid-stroke, positive inwards
    temperature: float  # of the oil [K]
    velocity: Floats  # [m/s]
    force: Floats  # on the rod, gas and friction included, cavitation included [N]
    hydraulic_force: Floats  # without gas force and friction [N]
    gas_force: float  # [N]
    friction: float  # [N]
    gas_pressure: float  # [Pa]
    compression_pressure: Floats  # below the piston [Pa]
    rebound_pressure: Floats  # round the rod [Pa]
    working_pressure: Floats  # the higher of both above the gas [Pa]
    flows: dict[str, Floats]  # by path, as "piston bleed" [m3/s]
    power: dict[str, Floats]  # heat by part, as "piston curtain" [W]
    parts: dict[str, Floats]  # force by part [N]; with "cavity" they add up to the hydraulic force
    lifts: dict[str, Floats]  # of piston and base discs [m]
    governing: tuple[str, ...]  # part that takes most power at each velocity; "rest" at 0
    margin: Floats  # lowest pressure above the cavitation limit [Pa]; 0 where it cavitates
    cavitates: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
    beyond_table: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]  # a lift table ended below the pressure

    @property
    def heat(self) -> Floats:
        """Power turned into heat, friction included [W]."""
        return np.asarray(self.hydraulic_force * self.velocity + self.friction * np.abs(self.velocity))

    @property
    def cavitation_onset(self) -> tuple[float, float]:
        """Velocity of the first cavitating point in rebound and in compression [m/s]; infinite where none does."""
        v = self.velocity[self.cavitates]
        rebound, compression = v[v < 0.0], v[v > 0.0]
        return (
            float(np.max(rebound)) if rebound.size else -math.inf,
            float(np.min(compression)) if compression.size else math.inf,
        )

    @property
    def warnings(self) -> tuple[str, ...]:
        """What an engineer must know before using the figures."""
        said = []
        low, high = self.cavitation_onset
        if math.isfinite(low):
            said.append(f"{self.name}: cavitates in rebound from {-low:.2f} m/s on; the intake or the gas is too weak")
        if math.isfinite(high):
            said.append(
                f"{self.name}: cavitates in compression from {high:.2f} m/s on; more foot valving or "
                "gas pressure is needed"
            )
        if np.any(self.beyond_table):
            v = np.abs(self.velocity[self.beyond_table])
            said.append(
                f"{self.name}: from {float(np.min(v)):.2f} m/s on the lift table ends and the last lift is held"
            )
        return tuple(said)

    def force_curve(self) -> ForceCurve:
        """Return the hydraulic force over velocity as a `ForceCurve`.

        Points where a chamber cavitates are left out (there the force stops rising, and so would the curve); see
        `warnings`.

        Raises
        ------
        DomainError
            If too few points are left or no velocity is 0.
        """
        keep = ~self.cavitates
        if not (np.any(self.velocity[keep] > 0.0) and np.any(self.velocity[keep] < 0.0)):
            raise DomainError(f"{self.name}: every point of one side cavitates; more gas pressure is needed")
        return ForceCurve(
            velocity=self.velocity[keep],
            force=self.hydraulic_force[keep],
            gas_force=self.gas_force,
            friction=self.friction,
            name=self.name,
        )


def velocity_grid(*, most: float = 2.0, points: int = 61) -> Floats:
    """Return rod velocities from -most to most [m/s], 0 among them, closer near 0 where valves open.

    Parameters
    ----------
    most : float
        [m/s], above 0, at most 10.
    points : int
        Odd, at least 3.
    """
    if not (0.0 < most <= FASTEST and points >= 3 and points % 2 == 1):
        raise DomainError(
            f"a grid to {most:g} m/s with {points} points; up to {FASTEST:g} m/s and an odd number are needed"
        )
    half = most * np.linspace(0.0, 1.0, points // 2 + 1)[1:] ** 2
    return np.concatenate([-half[::-1], [0.0], half])


def solve(
    damper: Damper, *, velocities: Floats | None = None, temperature: float = 293.15, position: float = 0.0
) -> QuasiStatic:
    """Return pressures and force of a damper at steady rod velocities.

    Parameters
    ----------
    damper : TwinTube or MonoTube
    velocities : array (n,), optional
        Rising [m/s], within +-10; `velocity_grid()` unless given.
    temperature : float
        Of oil and gas [K].
    position : float
        Of the piston [m], 0 in mid-stroke, positive inwards.

    Returns
    -------
    QuasiStatic

    Raises
    ------
    DomainError
        For velocities or a position outside the range.
    SolverError
        If a flow cannot be met; with its numbers.

    Notes
    -----
    Piston flow is the annulus times speed, base flow the rod times speed; oil does not compress. Where the pressure on
    the low side would fall below the limit a cavity opens there and the pressure stays at the limit: in compression
    the piston then passes less than it sweeps and the base takes the rest.

    References
    ----------
    .. [1] H. H. Lang, PhD thesis, University of Michigan 1977; J. C. Dixon, The Shock Absorber Handbook, Wiley 2007,
       ch. 7; Talbott and Starkey, SAE 2002-01-3337 (continuity and force; from memory).
    """
    v = velocity_grid() if velocities is None else np.array(velocities, dtype=float)
    if v.ndim != 1 or v.size == 0 or not np.all(np.isfinite(v)):
        raise DomainError(f"{damper.name}: velocities must be a list of numbers")
    if np.any(np.diff(v) <= 0.0):
        raise DomainError(f"{damper.name}: velocities must rise")
    if np.max(np.abs(v)) > FASTEST:
        raise DomainError(f"{damper.name}: {float(np.max(np.abs(v))):g} m/s; the model goes to {FASTEST:g} m/s")
    if abs(position) > damper.stroke / 2.0:
        raise DomainError(
            f"{damper.name}: position {position * 1e3:g} mm lies outside the stroke of +-{damper.stroke * 500:g} mm"
        )
    oil = damper.oil.at(temperature)
    gas = damper.gas_pressure_at(position, temperature=temperature)
    sides = [
        _side(damper, oil, gas, -v[v < 0.0][::-1], "rebound"),
        _side(damper, oil, gas, v[v >= 0.0], "compression"),
    ]

    def both(key: str, which: str) -> Floats:
        rebound, compression = (s.values.get(f"{key}{which}", np.zeros(s.speed.size)) for s in sides)
        return np.concatenate([rebound[::-1], compression])

    def table(key: str) -> dict[str, Floats]:
        names = dict.fromkeys(n[len(key) :] for s in sides for n in s.values if n.startswith(key))
        return {n: both(key, n) for n in names}

    low, high = both("", "rebound pressure"), both("", "compression pressure")
    gas_force = (gas - ATMOSPHERE) * damper.rod_area
    # the gas acts on both sides of the piston: pressures above it keep the digits
    hydraulic = (high - gas) * damper.piston_area - (low - gas) * damper.annulus_area
    power = table("power ")
    with np.errstate(divide="ignore", invalid="ignore"):
        parts = {n: np.where(v == 0.0, 0.0, w / v) for n, w in power.items()}
    parts["cavity"] = hydraulic - np.asarray(sum(parts.values(), np.zeros_like(v)))
    cavitates = both("", "cavitates") > 0.5
    parts["cavity"] = np.where(cavitates, parts["cavity"], 0.0)
    names = list(power)
    largest = np.argmax(np.array([power[n] for n in names]), axis=0)
    floor = np.minimum(low, high) - damper.cavitation_pressure
    return QuasiStatic(
        name=damper.name,
        position=position,
        temperature=temperature,
        velocity=v,
        force=hydraulic + gas_force + damper.friction * np.sign(v),
        hydraulic_force=hydraulic,
        gas_force=gas_force,
        friction=damper.friction,
        gas_pressure=gas,
        compression_pressure=high,
        rebound_pressure=low,
        working_pressure=np.maximum(low, high) - gas,
        flows=table("flow "),
        power=power,
        parts=parts,
        lifts=table("lift "),
        governing=tuple("rest" if speed == 0.0 else names[i] for speed, i in zip(v, largest, strict=True)),
        margin=np.where(cavitates, 0.0, floor),
        cavitates=cavitates,
        beyond_table=both("", "beyond table") > 0.5,
    )


@dataclass(frozen=True)
class _Side:
    speed: Floats
    values: dict[str, Floats]


def _base_drop(damper: Damper, oil: OilState, flow: Floats, sense: Sense) -> tuple[Floats, PathState | None, Floats]:
    """Return the drop over valves and hose of the base, the valves' state and the hose's own drop [Pa]."""
    drop, state, line = np.zeros_like(flow), None, np.zeros_like(flow)
    if damper.base is not None:
        state = damper.base.solve(flow, oil, sense=sense)
        drop = drop + state.drop
    if damper.hose is not None:
        line = damper.hose.drop(flow, oil)
        drop = drop + line
    return drop, state, line


def _dragged(band: BandGap | None, speed: Floats) -> Floats:
    return np.zeros_like(speed) if band is None else np.asarray(band.drag_flow(1.0) * speed)


def _side(damper: Damper, oil: OilState, gas: float, speed: Floats, sense: Sense) -> _Side:
    """Return everything at speeds of 0 or more in one direction [m/s]."""
    limit = damper.cavitation_pressure
    drag = _dragged(damper.piston.band, speed)
    through = damper.annulus_area * speed
    base_flow = damper.rod_area * speed
    base_drop, base, line = _base_drop(damper, oil, base_flow, sense)
    piston = damper.piston.solve(through, oil, sense=sense, dragged=drag)
    if sense == "compression":
        below = gas + base_drop
        above = below - piston.drop
        cavitates = above < limit
        if np.any(cavitates):
            through = through.copy()
            through[cavitates] = _choked(damper, oil, gas, speed[cavitates])
            base_flow = damper.piston_area * speed - through
            base_drop, base, line = _base_drop(damper, oil, base_flow, sense)
            piston = damper.piston.solve(through, oil, sense=sense, dragged=np.minimum(drag, through))
            below = gas + base_drop
            above = np.where(cavitates, limit, below - piston.drop)
    else:
        below = gas - base_drop
        cavitates = below < limit
        below = np.maximum(below, limit)
        above = below + piston.drop
    values = {
        "compression pressure": below,
        "rebound pressure": above,
        "cavitates": cavitates.astype(float),
        "beyond table": piston.beyond_table.astype(float),
        "lift piston": piston.lift,
    }
    for name, state in (("piston", piston), ("base", base)):
        if state is None:
            continue
        values["lift " + name] = state.lift
        values |= {f"flow {name} {key}": value for key, value in state.flows.items()}
        values |= {f"power {name} {key}": value for key, value in state.power.items()}
        values["beyond table"] = np.maximum(values["beyond table"], state.beyond_table.astype(float))
    if damper.hose is not None:
        values["flow hose"], values["power hose"] = base_flow, base_flow * line
    return _Side(speed=speed, values=values)


def _choked(damper: Damper, oil: OilState, gas: float, speed: Floats) -> Floats:
    """Return the piston's flow in compression while a cavity stands above it [m3/s].

    The piston's drop is all that lies between compression chamber and limit; what does not pass it leaves by the base.
    """
    band = damper.piston.band
    swept = damper.piston_area * speed
    drag = _dragged(band, speed)

    def excess(through: Floats) -> Floats:
        piston = damper.piston.solve(through, oil, sense="compression", dragged=drag).drop
        below = gas + _base_drop(damper, oil, swept - through, "compression")[0]
        wanted = below - damper.cavitation_pressure
        return np.asarray((piston - wanted) / (piston + wanted))

    return rising_root(
        excess,
        low=np.minimum(drag, damper.annulus_area * speed),
        high=damper.annulus_area * speed,
        what=f"{damper.name}, flow through the piston while it cavitates",
        tolerance=1e-9,
    )
