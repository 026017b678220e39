"""The linear twin: the motion's own equations differentiated about straight running, and their modes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion.linear_friction import MotionSize
from tussock.mechanics.motion.linear_system import INPUTS, OUTPUTS, System
from tussock.mechanics.motion.rest import Rest, settle
from tussock.mechanics.motion.steady_bend import SteadyBend
from tussock.mechanics.motion.vehicle import Vehicle

SECOND = 0.25  # share of a mode's energy from which its second motion is named
GROWS = 1e-6  # real part of an eigenvalue from which a mode counts as growing [1/s]
SHAPES = (
    "body heave",
    "body pitch",
    "body roll",
    "yaw",
    "sideways",
    "front axle hop",
    "front axle tramp",
    "rear axle hop",
    "rear axle tramp",
    "steering",
    "hand wheel",
    "frame twist",
)


@dataclass(frozen=True, kw_only=True)
class Mode:
    """One mode of the linear twin.

    Attributes
    ----------
    frequency : float
        Natural frequency [Hz]: modulus of the eigenvalue over 2 pi; 0 for a mode that does not swing.
    damping : float
        Damping ratio [-]; 1 for a mode that dies away without swinging, -1 for one that grows so.
    eigenvalue : complex
        [1/s].
    shape : str
        Which motion holds most of its kinetic energy, one of `SHAPES`.
    shares : dict
        Share of each motion of `SHAPES` in the kinetic energy [-].
    vector : array (n,)
        Complex amplitudes of the states.
    """

    frequency: float
    damping: float
    eigenvalue: complex
    shape: str
    shares: dict[str, float]
    vector: np.ndarray[tuple[int], np.dtype[np.complex128]]

    @property
    def words(self) -> str:
        """The motion in words; a second one with a quarter of the energy or more is named too."""
        second = sorted(self.shares, key=lambda name: self.shares[name])[-2]
        return f"{self.shape} with {second}" if self.shares[second] >= SECOND else self.shape

    @property
    def swings(self) -> bool:
        """Whether it swings, and not just dies away or grows."""
        return self.frequency > 0.0

    @property
    def grows(self) -> bool:
        """Whether it grows."""
        return self.eigenvalue.real > GROWS

    def __str__(self) -> str:
        """Return words, frequency and damping ratio: "front axle tramp, 11.2 Hz, 0.18".

        A mode that does not swing gives its time constant instead.
        """
        if self.swings:
            return f"{self.words}, {self.frequency:.1f} Hz, {self.damping:.2f}"
        pace = abs(self.eigenvalue.real)
        if pace == 0.0:
            return f"{self.words}, stays"
        return f"{self.words}, {'grows' if self.grows else 'dies away'} in {1.0 / pace:.2g} s"


@dataclass(frozen=True, kw_only=True)
class Row:
    """One output of the twin: state . x + feed . u.

    Attributes
    ----------
    name : str
    state : array (n,)
    feed : array (m,)
    """

    name: str
    state: Floats
    feed: Floats

    def plus(self, other: Row, size: float = 1.0) -> Row:
        """Return this row and another one, scaled."""
        return replace(self, state=self.state + size * other.state, feed=self.feed + size * other.feed)


@dataclass(frozen=True, kw_only=True)
class LinearModel:
    """x' = a x + b u, y = c x + d u about straight running at one speed; deviations from `trim`.

    Attributes
    ----------
    a, b, c, d : array
        (n, n), (n, m), (p, n), (p, m), SI.
    states, inputs, outputs : tuple of str
        Names of rows and columns. What cannot move, or moves nothing, is no state: rods in rigid mounts, say.
    trim : array (n,)
        State that the deviations are from.
    running : tuple of arrays
        The same as positions, speeds and local states of the kernels.
    steer : float
        Hand wheel over the steering ratio that is held there [rad].
    speed, wheelbase, track, gravity : float
        [m/s], [m], mean of both axles [m], [m/s^2].
    modes : tuple of Mode
        Swinging modes by rising frequency, then the others by falling time constant.
    """

    a: Floats
    b: Floats
    c: Floats
    d: Floats
    states: tuple[str, ...]
    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    trim: Floats
    running: tuple[Floats, Floats, Floats]
    steer: float
    speed: float
    wheelbase: float
    track: float
    gravity: float
    modes: tuple[Mode, ...]

    @property
    def fastest(self) -> float:
        """Largest modulus of an eigenvalue [1/s].

        Damper mounts and tyres' side deflection, mostly the fastest, are stepped implicitly and set no limit to the
        time step; of what moves, modulus times step should stay below 0.5.
        """
        return max(abs(mode.eigenvalue) for mode in self.modes)

    @property
    def stable(self) -> bool:
        """Whether every motion dies away."""
        return not any(mode.grows for mode in self.modes)

    def row(self, name: str) -> Row:
        """Return an output, a state, or the rate of a state ("rate of pitch rate"), as a row over states and inputs.

        Raises
        ------
        DomainError
            If there is none of that name.
        """
        n, m = self.a.shape[0], self.b.shape[1]
        if name in self.outputs:
            i = self.outputs.index(name)
            return Row(name=name, state=self.c[i], feed=self.d[i])
        if name in self.states:
            return Row(name=name, state=np.eye(n)[self.states.index(name)], feed=np.zeros(m))
        of = name.removeprefix("rate of ")
        if of in self.states:
            i = self.states.index(of)
            return Row(name=name, state=self.a[i], feed=self.b[i])
        raise DomainError(f"the linear twin has no output or state {name!r}")

    def acceleration(self, lever: tuple[float, float, float], axis: str) -> Row:
        """Return the acceleration of a point of the body without gravity, body axes [m/s^2].

        Parameters
        ----------
        lever : tuple of float
            From the sprung centre of mass [m].
        axis : str
            "forward", "lateral" or "vertical".
        """
        turn = {a: self.row(f"rate of {a} rate") for a in ("roll", "pitch", "yaw")}
        x, y, z = lever
        parts = {
            "forward": ((z, "pitch"), (-y, "yaw")),
            "lateral": ((x, "yaw"), (-z, "roll")),
            "vertical": ((y, "roll"), (-x, "pitch")),
        }
        # what an accelerometer would feel of gravity in a body that leans is taken off
        lean = {"forward": (self.gravity, "pitch"), "lateral": (-self.gravity, "roll"), "vertical": (0.0, "roll")}
        whole = self.row(f"centre acceleration {axis}")
        for size, name in parts[axis]:
            whole = whole.plus(turn[name], size)
        size, angle = lean[axis]
        return replace(whole.plus(self.row(angle), size), name=f"{axis} acceleration")

    def mode(self, shape: str) -> Mode:
        """Return the swinging mode in which a motion of `SHAPES` has its greatest share.

        Raises
        ------
        SolverError
            If nothing swings.
        """
        swinging = [m for m in self.modes if m.frequency > 0.0]
        if shape not in SHAPES or not swinging:
            raise SolverError(f"no swinging mode for {shape!r}; shapes are {', '.join(SHAPES)}")
        return max(swinging, key=lambda m: m.shares[shape])


def linearise(
    vehicle: Vehicle,
    *,
    speed: float,
    size: MotionSize | None = None,
    rest: Rest | None = None,
    hands_off: bool = False,
    bend: SteadyBend | None = None,
) -> LinearModel:
    """Return the linear twin of a vehicle at a speed.

    Central differences of the compiled right-hand side about running straight on, on a level road: the hand wheel is
    held so that the vehicle does not yaw. At speed 0 the tyres hold it where it stands. A bump stop or a spring that
    has just come loose is taken as it is at rest.

    Friction has no slope at rest, and a bent damper curve another one there than in use. Without `size` friction is
    left out and dampers count with their slope at rest; with it both have the slopes that are equivalent in a random
    motion of that size (see `linear_friction`), and springs with friction one more state each.

    Parameters
    ----------
    vehicle : Vehicle
        What to linearise.
    speed : float
        [m/s], not negative.
    size : MotionSize, optional
        How much dampers and springs move; `road_twin` finds it for a road.
    rest : Rest, optional
        Where it stands; found if not given.
    hands_off : bool
        Whether the hand wheel turns freely with its own inertia; held unless said. Needs `Vehicle.steering`.
    bend : SteadyBend, optional
        Differentiate about this bend of the same vehicle at the same speed instead of straight running.

    Raises
    ------
    SolverError
        If the vehicle does not come to rest or cannot run straight, with what is left.
    """
    twin = System(vehicle, speed, size, settle(vehicle) if rest is None else rest, hands_off=hands_off, bend=bend)
    values, vectors = np.linalg.eig(twin.a)
    upper = [i for i, s in enumerate(values) if s.imag >= 0.0]  # of each conjugate pair one
    modes = [_mode(complex(values[i]), vectors[:, i], twin.names, vehicle) for i in upper]
    modes.sort(key=lambda m: (m.frequency == 0.0, m.frequency, abs(m.eigenvalue)))
    return LinearModel(
        a=twin.a,
        b=twin.b,
        c=twin.c,
        d=twin.d,
        states=twin.names,
        inputs=INPUTS,
        outputs=OUTPUTS,
        trim=twin.x,
        running=twin.running,
        steer=twin.steer,
        speed=speed,
        wheelbase=vehicle.wheelbase,
        track=0.5 * (vehicle.front.axle.track + vehicle.rear.axle.track),
        gravity=vehicle.gravity,
        modes=tuple(modes),
    )


def _mode(
    value: complex,
    vector: np.ndarray[tuple[int], np.dtype[np.complex128]],
    names: tuple[str, ...],
    vehicle: Vehicle,
) -> Mode:
    """Return a mode with its shares of kinetic energy, of body and axles about their own centres."""
    part = dict(zip(names, vector, strict=True))
    body = vehicle.body
    energy: dict[str, float] = {
        "body heave": body.mass * abs(part["vertical speed"]) ** 2,
        "body pitch": body.inertia[1] * abs(part["pitch rate"]) ** 2,
        "body roll": body.inertia[0] * abs(part["roll rate"]) ** 2,
        "yaw": body.inertia[2] * abs(part["yaw rate"]) ** 2,
        # relative to a path that turns with the body
        "sideways": body.mass * abs(part["lateral speed"]) ** 2,
    }
    turns = (0.0, 0.0) if vehicle.frame is None else vehicle.frame.turns
    twist = part.get("twist rate", 0.0)
    if vehicle.frame is not None:
        energy["frame twist"] = vehicle.frame.inertia(body.inertia[0]) * float(abs(twist)) ** 2
    for end, parts, turn in zip(("front", "rear"), vehicle.axles, turns, strict=True):
        lever = parts.axle.design_x - body.centre[0]
        heave = part["vertical speed"] - lever * part["pitch rate"] + part[f"{end} heave rate"]
        roll = part["roll rate"] + part[f"{end} roll rate"] + turn * twist
        energy[f"{end} axle hop"] = parts.mass.mass * abs(heave) ** 2
        energy[f"{end} axle tramp"] = parts.mass.inertia[0] * abs(roll) ** 2
    if vehicle.steering is not None and "steer rate" in part:
        energy["steering"] = vehicle.steering.inertia * float(abs(part["steer rate"] + part["yaw rate"])) ** 2
        energy["hand wheel"] = vehicle.steering.hand_wheel * float(abs(part.get("hand wheel rate", 0.0))) ** 2
    total = sum(energy.values()) or 1.0
    shares = {name: float(energy.get(name, 0.0) / total) for name in SHAPES}
    size = abs(value)
    swings = value.imag > 1e-9 * max(size, 1.0)
    damping = -value.real / size if swings else (1.0 if value.real <= 0.0 else -1.0)
    return Mode(
        frequency=size / (2.0 * math.pi) if swings else 0.0,
        damping=float(damping),
        eigenvalue=value,
        shape=max(shares, key=lambda name: shares[name]),
        shares=shares,
        vector=vector,
    )
