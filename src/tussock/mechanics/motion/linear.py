"""The linear twin: the motion's own equations differentiated about straight running, and their modes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion.rest import Evaluator, settle
from tussock.mechanics.motion.vehicle import Vehicle, pack

WHEELS = ("front left", "front right", "rear left", "rear right")
_POSITIONS = ("height", "pitch", "roll", "front heave", "front roll", "rear heave", "rear roll")
_RATES = (
    "roll rate",
    "pitch rate",
    "yaw rate",
    "lateral speed",
    "vertical speed",
    "front heave rate",
    "front roll rate",
    "rear heave rate",
    "rear roll rate",
)
INPUTS = (
    *(f"road height {w}" for w in WHEELS),
    *(f"road rate {w}" for w in WHEELS),
    *(f"road slope {w}" for w in WHEELS),
    "steer",
    "side force",
    "roll moment",
    "yaw moment",
)
_INPUT_COLUMNS = (*range(12), 14, 15, 16, 17)
OUTPUTS = (
    *(f"{what} {w}" for what in ("wheel load", "damper velocity", "damper force") for w in WHEELS),
    *(f"{what} {w}" for what in ("spring length", "side force") for w in WHEELS),
    *(f"centre acceleration {axis}" for axis in ("forward", "lateral", "vertical")),
)
_OUTPUT_LOG = (*range(12), *range(16, 24), 25, 26, 27)
_MOVE = 1e-5  # step of the differences for positions [m, rad]
_RATE = 1e-4  # for speeds [m/s, rad/s]
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


@dataclass(frozen=True, kw_only=True)
class LinearModel:
    """x' = a x + b u, y = c x + d u about straight running at one speed; deviations from `trim`.

    Attributes
    ----------
    a, b, c, d : array
        (n, n), (n, 16), (23, n), (23, 16), SI.
    states, inputs, outputs : tuple of str
        Names of rows and columns. Rod travel of dampers with rigid mounts is no state.
    trim : array (n,)
        State that the deviations are from.
    speed : float
        [m/s].
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
    speed: float
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
        return all(mode.eigenvalue.real < 1e-6 for mode in self.modes)

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


class _Twin:
    """The right-hand side as a function of the twin's states and inputs."""

    def __init__(self, vehicle: Vehicle, speed: float) -> None:
        packed = pack(vehicle, lag=0.0, friction=False)
        self.evaluate = Evaluator(packed, lag=0.0)
        self.packed, self.speed = packed, speed
        rest = settle(vehicle)
        self.rods = [n for n in range(4) if packed.wheel_value(k.W_KM, n) > 0.0]
        self.names = (
            *_POSITIONS,
            *_RATES,
            *(f"rod travel {WHEELS[n]}" for n in self.rods),
            *(f"tyre side deflection {w}" for w in WHEELS),
        )
        self._rod_rest = rest.local
        self.start = np.concatenate([rest.q[3:10], np.zeros(9), rest.local[self.rods], np.zeros(4)])
        self.steps = np.full(self.start.size, _MOVE)
        self.steps[7:16] = _RATE
        self._kin = np.zeros(k.POSITIONS)
        self.held = np.zeros(len(INPUTS))

    def __call__(self, x: Floats, u: Floats) -> tuple[Floats, Floats]:
        """Return state rates and outputs."""
        q = np.concatenate([np.zeros(3), x[:7], np.zeros(k.POSITIONS - 10)])
        rates = np.concatenate([x[7:16], np.zeros(k.SPEEDS - 9)])
        local = self._rod_rest.copy()
        local[self.rods] = x[16 : 16 + len(self.rods)]
        local[4:8] = x[16 + len(self.rods) :]
        inputs = np.zeros(k.INPUTS)
        inputs[list(_INPUT_COLUMNS)] = u
        inputs[12] = self.speed
        acceleration = self.evaluate(q, rates, local, inputs)
        k.kinematics(q, rates, self.speed, self._kin)
        slow = self.evaluate.local_rate
        out = np.concatenate([self._kin[3:10], acceleration[:9], slow[self.rods], slow[4:8]])
        return out, self.evaluate.log[list(_OUTPUT_LOG)].copy()

    def slopes(self, x: Floats) -> tuple[Floats, Floats]:
        """Return a and c at a state."""
        columns = []
        for i, step in enumerate(self.steps):
            ahead, behind = x.copy(), x.copy()
            ahead[i] += step
            behind[i] -= step
            (f1, y1), (f0, y0) = self(ahead, self.held), self(behind, self.held)
            columns.append(np.concatenate([f1 - f0, y1 - y0]) / (2.0 * step))
        both = np.stack(columns, axis=1)
        return both[: x.size].copy(), both[x.size :].copy()

    def input_slopes(self, x: Floats) -> tuple[Floats, Floats]:
        """Return b and d at a state."""
        columns = []
        for i, name in enumerate(INPUTS):
            step = 10.0 if name.endswith(("force", "moment")) else 1e-5
            u = self.held.copy()
            u[i] = step
            f1, y1 = self(x, u)
            f0, y0 = self(x, -u)
            columns.append(np.concatenate([f1 - f0, y1 - y0]) / (2.0 * step))
        both = np.stack(columns, axis=1)
        return both[: x.size].copy(), both[x.size :].copy()


def linearise(vehicle: Vehicle, *, speed: float) -> LinearModel:
    """Return the linear twin of a vehicle at a speed.

    Central differences of the compiled right-hand side about running straight on: hands off the steering, level road.
    At speed 0 the tyres hold the vehicle where it stands. Friction of dampers and springs has no linear twin and is
    left out, so the twin is somewhat less damped, and softer, than the vehicle on a smooth road. A bump stop or a
    spring that has just come loose is taken as it is at rest.

    Parameters
    ----------
    vehicle : Vehicle
        What to linearise.
    speed : float
        [m/s], not negative.

    Raises
    ------
    SolverError
        If the vehicle does not come to rest or cannot run straight, with what is left.
    """
    twin = _Twin(vehicle, speed)
    x = twin.start
    if speed > 0.0:
        for _ in range(12):
            f, _ = twin(x, twin.held)
            if float(np.abs(f).max()) < 1e-9:
                break
            x = x - np.linalg.solve(twin.slopes(x)[0], f)
        left = float(np.abs(twin(x, twin.held)[0]).max())
        if not left < 1e-6:
            raise SolverError(f"no straight running at {speed:g} m/s: {left:.3g} m/s^2 are left of the accelerations")
    a, c = twin.slopes(x)
    b, d = twin.input_slopes(x)
    values, vectors = np.linalg.eig(a)
    upper = [i for i, s in enumerate(values) if s.imag >= 0.0]  # of each conjugate pair one
    modes = [_mode(complex(values[i]), vectors[:, i], twin.names, vehicle) for i in upper]
    modes.sort(key=lambda m: (m.frequency == 0.0, m.frequency, abs(m.eigenvalue)))
    return LinearModel(
        a=a,
        b=b,
        c=c,
        d=d,
        states=twin.names,
        inputs=INPUTS,
        outputs=OUTPUTS,
        trim=x,
        speed=speed,
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
    energy = {
        "body heave": body.mass * abs(part["vertical speed"]) ** 2,
        "body pitch": body.inertia[1] * abs(part["pitch rate"]) ** 2,
        "body roll": body.inertia[0] * abs(part["roll rate"]) ** 2,
        "yaw": body.inertia[2] * abs(part["yaw rate"]) ** 2,
        # relative to a path that turns with the body
        "sideways": body.mass * abs(part["lateral speed"]) ** 2,
    }
    for end, parts in zip(("front", "rear"), vehicle.axles, strict=True):
        lever = parts.axle.design_x - body.centre[0]
        heave = part["vertical speed"] - lever * part["pitch rate"] + part[f"{end} heave rate"]
        roll = part["roll rate"] + part[f"{end} roll rate"]
        energy[f"{end} axle hop"] = parts.mass.mass * abs(heave) ** 2
        energy[f"{end} axle tramp"] = parts.mass.inertia[0] * abs(roll) ** 2
    total = sum(energy.values()) or 1.0
    shares = {name: float(e / total) for name, e in energy.items()}
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
