"""A cycle with oil that compresses and discs that lag: the force-displacement loop at a stroke and a frequency."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.hydraulics.architecture import Damper
from tussock.mechanics.dampers.hydraulics.chambers import LaggingSet, OilLaw
from tussock.mechanics.dampers.hydraulics.oil import ATMOSPHERE


@dataclass(frozen=True, kw_only=True, eq=False)
class Loop:
    """One settled cycle of x = -X cos(2 pi f t) about a mean position; arrays (n,), the last point repeats the first.

    Velocity and force: positive in compression and pushing the rod out. Pressures are absolute.
    """

    name: str
    amplitude: float  # [m]
    frequency: float  # [Hz]
    mean_position: float  # [m]
    temperature: float  # of the oil [K]
    time: Floats  # from the start of the cycle [s]
    position: Floats  # positive inwards, from mid-stroke [m]
    velocity: Floats  # [m/s]
    force: Floats  # friction included [N]
    friction: float  # [N]
    rod_area: float  # [m2]
    compression_pressure: Floats  # [Pa]
    rebound_pressure: Floats  # [Pa]
    gas_pressure: Floats  # [Pa]
    masses: Floats  # (k, n) oil in compression chamber, rebound chamber, reserve [kg]
    heat: float  # of all restrictions and friction over the cycle [J]
    cycles: int  # run until the loop repeats
    repeat_error: float  # largest change of force from the cycle before [N]
    cavitates: bool  # a chamber came below the limit, or below 1 kPa where the limit is lower

    @property
    def work(self) -> float:
        """Area of the loop, the work put in over the cycle [J]."""
        x, f = self.position, self.force - self.friction * np.sign(self.velocity)
        return float(np.sum(0.5 * (f[1:] + f[:-1]) * np.diff(x))) + 4.0 * self.friction * self.amplitude

    @property
    def mass_drift(self) -> float:
        """Largest change of the whole oil mass over the cycle, over that mass [-]."""
        whole = np.sum(self.masses, axis=0)
        return float(np.max(np.abs(whole - whole[0])) / whole[0])

    def force_at(self, velocity: float, *, quickening: bool) -> float:
        """Return the force without friction where the rod passes a velocity [N].

        Parameters
        ----------
        velocity : float
            [m/s], between both peaks.
        quickening : bool
            On the way to the peak of that direction, or away from it.

        Raises
        ------
        DomainError
            If the cycle does not reach that velocity.
        """
        peak = 2.0 * math.pi * self.frequency * self.amplitude
        if abs(velocity) > peak:
            raise DomainError(f"{self.name}: the cycle reaches {peak:.3f} m/s, not {velocity:g} m/s")
        angle = math.asin(abs(velocity) / peak)
        angle = angle if quickening else math.pi - angle
        when = (angle + (math.pi if velocity < 0.0 else 0.0)) / (2.0 * math.pi * self.frequency)
        return float(np.interp(when, self.time, self.force - self.friction * np.sign(self.velocity)))

    @property
    def hysteresis(self) -> float:
        """Largest gap of force between both passes of a velocity, gas force and friction taken off [N]."""
        own = self.force - self.friction * np.sign(self.velocity)
        f = own - (self.gas_pressure - ATMOSPHERE) * self.rod_area
        n = f.size // 4
        up, down = f[: 2 * n + 1], f[2 * n :]
        return float(max(np.max(np.abs(up - up[::-1])), np.max(np.abs(down - down[::-1]))))


def cycle(
    damper: Damper,
    *,
    amplitude: float,
    frequency: float,
    mean_position: float = 0.0,
    temperature: float = 293.15,
    points: int = 400,
    least_cycles: int = 2,
    most_cycles: int = 12,
    repeat: float = 2e-3,
) -> Loop:
    """Run a sine until its loop repeats, and return the last cycle.

    Parameters
    ----------
    damper : TwinTube or MonoTube
    amplitude : float
        Half the stroke of the test [m].
    frequency : float
        [Hz].
    mean_position : float
        Of the piston [m], 0 in mid-stroke, positive inwards.
    temperature : float
        Of oil and gas [K].
    points : int
        Of the loop, a multiple of 4; the solver chooses its own steps.
    least_cycles : int
        Run in any case, at least 2.
    most_cycles : int
        Tried before the run is given up.
    repeat : float
        Largest change between two cycles, over the span of force [-].

    Returns
    -------
    Loop

    Raises
    ------
    DomainError
        If the stroke leaves the damper's, or a number is not positive.
    SolverError
        If the loop does not repeat, or the integration fails; with its numbers.

    Notes
    -----
    Unknowns are the oil masses of the chambers and the drops that the discs feel (first-order lag, the valve's
    `delay`). Chamber pressure follows from mass and room with the air carried as mass, so that oil is conserved to
    rounding. The floating piston has no mass and no friction of its own.

    References
    ----------
    .. [1] H. H. Lang, PhD thesis, University of Michigan 1977; Duym, Stiens and Reybrouck, Vehicle System Dynamics 27
       (1997) 109-127; Lee, Vehicle System Dynamics 28 (1997) 25-39 (chamber compressibility, from memory).
    """
    if not (amplitude > 0.0 and frequency > 0.0 and math.isfinite(amplitude * frequency)):
        raise DomainError(f"{damper.name}: amplitude {amplitude:g} m and frequency {frequency:g} Hz must be positive")
    if abs(mean_position) + amplitude > damper.stroke / 2.0 * (1.0 + 1e-9):
        raise DomainError(
            f"{damper.name}: +-{amplitude * 1e3:g} mm about {mean_position * 1e3:g} mm leave the stroke of "
            f"+-{damper.stroke * 500:g} mm"
        )
    if points < 40 or points % 4:
        raise DomainError(f"{damper.name}: {points} points of the loop; at least 40 and a multiple of 4 are needed")
    if not 2 <= least_cycles <= most_cycles:
        raise DomainError(f"{damper.name}: from {least_cycles} to {most_cycles} cycles; at least 2, and in that order")
    model = _Model(
        damper, amplitude=amplitude, omega=2.0 * math.pi * frequency, mean=mean_position, temperature=temperature
    )
    state, period = model.rest(), 1.0 / frequency
    time = np.linspace(0.0, period, points + 1)
    before: Floats | None = None
    change = math.inf
    for done in range(1, most_cycles + 1):
        state[-1] = 0.0
        run = solve_ivp(
            model.rates, (0.0, period), state, method="BDF", t_eval=time, rtol=1e-8, atol=model.tolerances,
            max_step=period / 60.0,
        )  # fmt: skip
        if not run.success:
            raise SolverError(
                f"{damper.name}: cycle {done} at {frequency:g} Hz, +-{amplitude * 1e3:g} mm stopped at "
                f"{float(run.t[-1]) if run.t.size else 0.0:.6f} s: {run.message}"
            )
        states = np.asarray(run.y, dtype=float)
        pressures = np.array([model.pressures(float(t), states[:, i]) for i, t in enumerate(time)]).T
        force = pressures[0] * damper.piston_area - pressures[1] * damper.annulus_area - ATMOSPHERE * damper.rod_area
        state = states[:, -1].copy()
        if before is not None:
            change = float(np.max(np.abs(force - before)))
            if done >= least_cycles and change <= repeat * float(np.ptp(force)) + 1e-3:
                break
        before = force
    else:
        raise SolverError(
            f"{damper.name}: after {most_cycles} cycles at {frequency:g} Hz, +-{amplitude * 1e3:g} mm the force still "
            f"changes by {change:.3g} N of {float(np.ptp(force)):.4g} N"
        )
    phase = 2.0 * math.pi * frequency * time
    velocity = amplitude * 2.0 * math.pi * frequency * np.sin(phase)
    velocity[[0, points // 2, points]] = 0.0
    return Loop(
        name=damper.name,
        amplitude=amplitude,
        frequency=frequency,
        mean_position=mean_position,
        temperature=temperature,
        time=time,
        position=mean_position - amplitude * np.cos(phase),
        velocity=velocity,
        force=force + damper.friction * np.sign(velocity),
        friction=damper.friction,
        rod_area=damper.rod_area,
        compression_pressure=pressures[0],
        rebound_pressure=pressures[1],
        gas_pressure=pressures[2],
        masses=states[: model.chambers],
        heat=float(states[-1, -1]) + 4.0 * damper.friction * amplitude,
        cycles=done,
        repeat_error=change,
        cavitates=bool(np.min(pressures) < max(damper.cavitation_pressure, 1e3)),
    )


class _Model:
    """Rates of masses, felt drops and heat; states in that order."""

    def __init__(self, damper: Damper, *, amplitude: float, omega: float, mean: float, temperature: float) -> None:
        self.damper, self.amplitude, self.omega, self.mean = damper, amplitude, omega, mean
        oil = damper.oil.at(temperature)
        self.law = OilLaw(damper.oil, temperature=temperature)
        self.piston = LaggingSet(damper.piston, oil)
        apart = damper.has_reserve and (damper.base is not None or damper.hose is not None)
        self.base = LaggingSet(damper.base, oil, hose=damper.hose) if apart else None
        self.chambers = 3 if apart else 2
        band = damper.piston.band
        self.drag = 0.0 if band is None else band.drag_flow(1.0)
        # a reservoir that is open to the tube is part of the chamber below the piston
        self.extra = 0.0 if apart else damper.reserve_volume
        start = mean - amplitude
        self.gas = (
            damper.gas_pressure_at(start, temperature=temperature),
            damper.gas_volume_at(start, temperature=temperature),
            damper.gas_exponent,
        )
        self.guess = [self.gas[0]] * 3
        volume = self.law.volume(self.gas[0])
        below = damper.compression_volume(start) + self.extra
        rooms = [below, damper.rebound_volume(start), damper.reserve_volume]
        rooms[2 if apart else 0] -= self.gas[1]
        self.masses = [room / volume for room in rooms[: self.chambers]]
        # the solver's error in a chamber: some 200 Pa of its pressure
        stiff = [200.0 * m / damper.oil.bulk_modulus for m in self.masses]
        lags = 4 if apart else 2
        self.tolerances = np.array([*stiff, *[200.0] * lags, 1e-3])

    def rest(self) -> Floats:
        """Return the state at the outer end of the stroke, in balance with the gas."""
        return np.array([*self.masses, *[0.0] * (self.tolerances.size - self.chambers)])

    def place(self, time: float) -> tuple[float, float]:
        """Return position [m] and velocity [m/s]."""
        phase = self.omega * time
        return self.mean - self.amplitude * math.cos(phase), self.amplitude * self.omega * math.sin(phase)

    def pressures(self, time: float, state: Floats) -> tuple[float, float, float]:
        """Return the pressures below the piston, above it and of the gas [Pa]."""
        x, _ = self.place(time)
        guess, law = self.guess, self.law
        below = self.damper.compression_volume(x) + self.extra
        gas_here = None if self.base is not None else self.gas
        guess[0] = law.pressure(float(state[0]), below, gas=gas_here, start=guess[0])
        guess[1] = law.pressure(float(state[1]), self.damper.rebound_volume(x), start=guess[1])
        if self.base is None:
            guess[2] = guess[0]
        else:
            guess[2] = law.pressure(float(state[2]), self.damper.reserve_volume, gas=self.gas, start=guess[2])
        return guess[0], guess[1], guess[2]

    def rates(self, time: float, state: Floats) -> list[float]:
        """Return the rates of all states."""
        low, high, gas = self.pressures(time, state)
        _, v = self.place(time)
        k = self.chambers
        felt = state[k:-1].tolist()
        drop = low - high
        through = self._mass_flow(self.piston.flow(drop, felt[:2]) + self.drag * v, low, high)
        rates = [-through, through]
        lags = [(drop - felt[0]) / self.piston.delays[0], (-drop - felt[1]) / self.piston.delays[1]]
        heat = through * self.law.flow_work(low, high)
        if self.base is not None:
            drop = low - gas
            away = self._mass_flow(self.base.flow(drop, felt[2:]), low, gas)
            rates = [-through - away, through, away]
            lags += [(drop - felt[2]) / self.base.delays[0], (-drop - felt[3]) / self.base.delays[1]]
            heat += away * self.law.flow_work(low, gas)
        return [*rates, *lags, heat]

    def _mass_flow(self, flow: float, ahead: float, behind: float) -> float:
        """Return the mass flow of a volume flow measured at the pressure that it comes from [kg/s]."""
        return flow / self.law.volume(ahead if flow >= 0.0 else behind)
