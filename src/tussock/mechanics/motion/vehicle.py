"""The full vehicle as numbers: body, two axles, their parts, and the arrays that the kernels read."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap
from tussock.mechanics.mass import GRAVITY, MassState
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion.damper_parts import RIGID_MOUNT, DamperParts
from tussock.mechanics.motion.frame import Frame, Shape
from tussock.mechanics.motion.spline import cells, channels, curve_cells, fit, grid_row
from tussock.mechanics.motion.steering import FRICTION_TURN, RIGID, Give, Steering
from tussock.mechanics.tyre import Tyre

_STOP_NODES, _ENERGY_NODES = 256, 1001
_GROUND_AT = 9  # place of the loaded radius among the kernels' values of an axle
_BUSH_LAG, _TRACTION_LAG = 8e-3, 10e-3  # behind forces at the ground, of slip [s]; common practice, no source


@dataclass(frozen=True, kw_only=True)
class AxleParts:
    """One axle: map, mass, springs, stops, dampers, bar, tyres. Left and right are alike unless given as pairs.

    Attributes
    ----------
    axle : AxleMap
        Where the wheels go.
    mass : MassState
        Of all that moves with the wheels, both sides together, its inertia about its own centre: of a rigid axle with
        wheels, or of two wheels with uprights (about x and z then mostly their mass times half the track squared).
    spin_inertia : float
        Of one wheel about its axis [kg m^2].
    wheel_inertia : float or None
        Of one wheel, with its upright if independent, across its axis [kg m^2]: this part of the roll inertia turns
        with the wheel's inclination, not with the line between the wheels. Half the spin inertia unless given (a thin
        disc).
    spring_rate, spring_length : pair of float
        Rate [N/m] and free length with packer [m], left and right. Of a torsion bar rate [N m/rad] and twist in the
        stock pose [rad]. A rate of 0 leaves the springing to `further_force` or the energy of the map.
    further_force : function of array, optional
        Force of one spring beyond rate times compression, over the map's `spring` [N]: helper leaves, progressive
        coils, a bag beside it. It goes into the map's energy, so a knee is rounded over about the spacing of the nodes.
    stop_side_force : function of array, optional
        Force of what stands beside one bump stop, over the map's `stop` [N], likewise: an air helper bag.
    spring_friction, friction_travel : float
        Half the height of the loop that friction in one spring draws [N], and the travel of the spring over which the
        force comes to within 1/e of the loop's other side [m]; 0 for none.
    bush_friction, bush_travel : float
        The same of the bushes of one wheel, as a force at the wheel over its travel [N], [m]; 0 for none.
    stop_height : float
        Free height of stop and spacer [m].
    stop_compression, stop_force : array (n,)
        Force curve of the stop, even spacing from 0 [m], [N].
    stop_loss : float
        Share of the work of a fast compression that the stop does not give back [-], below 1: pressed faster than
        `kernels.CREEP` it pushes by l / (2 - l) of its curve more, let go by as much less.
    damper : DamperParts
        Both sides.
    bar_rate : float
        Of the anti-roll bar, over the twist that the map names [N m/rad].
    tyre : Tyre
        Both sides.
    drive_share, brake_share : float
        Share of the traction from the drive and of that from the brakes [-]; both axles together 1.
    carries_drive, carries_brakes : bool
        Whether what carries the wheels takes the torque of drive and of brakes: a rigid axle, uprights with outboard
        brakes. Otherwise the body does.
    give : Give
        Of the bushes under forces at the ground; none unless given.
    """

    axle: AxleMap
    mass: MassState
    spin_inertia: float
    spring_rate: tuple[float, float]
    spring_length: tuple[float, float]
    stop_height: float
    stop_compression: Floats
    stop_force: Floats
    damper: DamperParts
    bar_rate: float
    tyre: Tyre
    drive_share: float = 0.5
    brake_share: float = 0.5
    carries_drive: bool = True
    carries_brakes: bool = True
    give: Give = RIGID
    wheel_inertia: float | None = None
    further_force: Callable[[Floats], Floats] | None = None
    stop_side_force: Callable[[Floats], Floats] | None = None
    spring_friction: float = 0.0
    friction_travel: float = 0.0
    bush_friction: float = 0.0
    bush_travel: float = 0.0
    stop_loss: float = 0.0

    def __post_init__(self) -> None:
        """Refuse friction that never builds up, a spring that loses force under load, and inertia that cannot be."""
        for what, rates in (("spring", self.spring_rate), ("anti-roll bar", (self.bar_rate,))):
            if not all(math.isfinite(rate) and rate >= 0.0 for rate in rates):
                raise DomainError(f"{what}: its rate is {min(rates):g}; it cannot be negative")
        if self.further_force is not None and min(self.spring_rate) > 0.0:
            _rising(self.axle.spring, self.further_force, min(self.spring_rate))
        for what, force, travel in (
            ("a spring", self.spring_friction, self.friction_travel),
            ("the bushes", self.bush_friction, self.bush_travel),
        ):
            if force < 0.0 or (force > 0.0 and travel <= 0.0):
                raise DomainError(
                    f"friction of {what}: {force:g} N over {travel:g} m; the force cannot be negative and needs a "
                    "travel above 0"
                )
        if not 0.0 <= self.stop_loss < 1.0:
            raise DomainError(f"bump stop: it keeps {self.stop_loss:g} of the work done on it; 0 to below 1 is right")
        lump, own = self.lumped
        if lump <= 0.0 or own[0] < 0.0:
            raise DomainError(
                f"unsprung mass of {self.mass.mass:g} kg: its roll inertia of {self.mass.inertia[0]:g} kg m^2 must "
                "exceed that of the wheels themselves"
            )

    @property
    def lumped(self) -> tuple[float, tuple[float, float, float]]:
        """Mass that, half at each wheel centre, has the roll inertia [kg], and the wheels' own inertia besides."""
        x, y, z = self.mass.inertia
        across = self.spin_inertia if self.wheel_inertia is None else 2.0 * self.wheel_inertia
        lever = min(x - across, z)
        return lever / (0.5 * self.axle.track) ** 2, (x - lever, y, z - lever)

    @cached_property
    def stored(self) -> Floats:
        """Energy of the map, the anti-roll bar and what acts beyond the springs' rate (nh, nr) [J]."""
        whole = self.axle.energy + 0.5 * self.bar_rate * self.axle.bar**2
        for force, length in ((self.further_force, self.axle.spring), (self.stop_side_force, self.axle.stop)):
            if force is not None:
                grid = np.linspace(float(length.min()), float(length.max()), _ENERGY_NODES)
                whole = whole - np.sum(CubicSpline(grid, force(grid)).antiderivative()(length), axis=2)
        return np.asarray(whole)

    @cached_property
    def farthest(self) -> float:
        """Greatest travel of a wheel from the stock pose that the map knows [m]."""
        return float(np.abs(self.axle.travel).max())

    def on_springs(self, rate: tuple[float, float], length: tuple[float, float]) -> AxleParts:
        """Return the axle on springs of other rates [N/m] and lengths [m]; what does not hang on them is kept."""
        other = replace(self, spring_rate=rate, spring_length=length)
        other.__dict__.update({n: self.__dict__[n] for n in ("stored", "farthest", "cells") if n in self.__dict__})
        return other

    @cached_property
    def cells(self) -> tuple[Floats, Floats]:
        """Cells of the map as the kernels take them, one behind the other, and its grid row."""
        if self.further_force is not None or self.stop_side_force is not None:
            return self._made_cells()
        # besides the map only the bar is in them; those of the last bar are kept, as a sweep may try thousands
        kept: tuple[float, tuple[Floats, Floats]] | None = self.axle.beside.get("cells")
        if kept is None or kept[0] != self.bar_rate:
            kept = self.bar_rate, self._made_cells()
            self.axle.beside["cells"] = kept
        return kept[1]

    def _made_cells(self) -> tuple[Floats, Floats]:
        values, grid = channels(self.axle, self.stored), grid_row(self.axle)
        return _map_cells(values.tobytes(), values.shape, grid.tobytes()), grid


@dataclass(frozen=True, kw_only=True)
class Vehicle:
    """A sprung body on two axles.

    Attributes
    ----------
    body : MassState
        Sprung mass, its centre in vehicle axes of the stock pose, inertia about it.
    front, rear : AxleParts
        The axles.
    gravity : float
        [m/s^2].
    steering : Steering or None
        Of the front wheels; without it they follow the hand wheel rigidly and their moments go to the axle.
    frame : Frame or None
        How the body twists between the axles; rigid without it.
    """

    body: MassState
    front: AxleParts
    rear: AxleParts
    gravity: float = GRAVITY
    steering: Steering | None = None
    frame: Frame | None = None

    @property
    def axles(self) -> tuple[AxleParts, AxleParts]:
        """Front and rear."""
        return self.front, self.rear

    @property
    def total_mass(self) -> float:
        """Sprung and unsprung mass together [kg]."""
        return self.body.mass + self.front.mass.mass + self.rear.mass.mass

    @property
    def wheelbase(self) -> float:
        """Distance between the axle centres in the stock pose [m]."""
        return self.front.axle.design_x - self.rear.axle.design_x

    @property
    def twist_shape(self) -> Shape | None:
        """By how much slices of the body turn with the frame's twist; None for a rigid frame."""
        if self.frame is None:
            return None
        front, rear = (parts.axle.design_x - self.body.centre[0] for parts in self.axles)
        return Shape(front=front, rear=rear, turns=self.frame.turns)


@dataclass(frozen=True)
class Packed:
    """The kernels' parameter arrays; see the header of `kernels`. The dampers' tables belong to one step."""

    body: Floats
    axle: Floats
    wheel: Floats
    table: Floats
    grid: Floats
    inverse: Floats
    stops: Floats
    frame: Floats | None = None
    shape: Shape | None = None

    @property
    def arguments(
        self,
    ) -> tuple[Floats, Floats, Floats, Floats, Floats, Floats, Floats, int, int, Floats | None]:
        """In the order that the kernels take them, with the counts of channels and wheels."""
        return (
            self.body,
            self.axle,
            self.wheel,
            self.table,
            self.grid,
            self.inverse,
            self.stops,
            k.CHANNELS,
            k.WHEELS,
            self.frame,
        )

    def wheel_value(self, offset: np.uint64, n: int) -> float:
        """Return one property of a wheel, by its offset in `kernels`."""
        return float(self.wheel[int(offset) + n])

    def axle_at(self, a: int, heave: float, roll: float, heave_rate: float = 0.0, roll_rate: float = 0.0) -> Floats:
        """Return an axle's table (4, 16): value, slopes over heave and roll, curvature along the rates."""
        out = np.zeros(4 * k.CHANNELS)
        k.table_at(self.table, self.grid, a, k.CHANNELS, heave, roll, heave_rate, roll_rate, out)
        return out.reshape(4, k.CHANNELS)


def pack(vehicle: Vehicle, *, lag: float, camber: bool = True, friction: bool = True) -> Packed:
    """Return the kernels' arrays.

    Parameters
    ----------
    vehicle : Vehicle
        What to pack.
    lag : float
        Half the time step [s]; 0 for the plain equations.
    camber, friction : bool
        Leave out camber thrust (to find rest) or all friction (to linearise).

    Raises
    ------
    DomainError
        If a mass, inertia or share cannot be.
    """
    b = vehicle.body
    if b.mass <= 0.0 or min(b.inertia) <= 0.0:
        raise DomainError("the body needs a positive mass and inertia")
    for what in ("drive", "brake"):
        shares = sum(getattr(parts, f"{what}_share") for parts in vehicle.axles)
        if not math.isclose(shares, 1.0, abs_tol=1e-9):
            raise DomainError(f"the axles' {what} shares of the traction add up to {shares:g}; they must add up to 1")
    if vehicle.front.axle.heave.size != vehicle.rear.axle.heave.size or (
        vehicle.front.axle.roll.size != vehicle.rear.axle.roll.size
    ):
        raise DomainError("front and rear axle maps need the same number of nodes")
    body = np.zeros(k.BODY_SIZE)
    body[:11] = _body_row(vehicle)
    body[k.B_BUSH_LAG], body[k.B_TRACTION_LAG] = _BUSH_LAG, _TRACTION_LAG
    steering = vehicle.steering
    if steering is not None:
        body[k.B_STEERS], body[k.B_STEER_INERTIA] = 1.0, 1.0 / steering.inertia
        body[k.B_COLUMN], body[k.B_COLUMN_DAMPING] = steering.stiffness, steering.damping
        body[k.B_STEERING_DAMPER], body[k.B_HAND_WHEEL] = steering.damper, 1.0 / steering.hand_wheel
        if friction:
            body[k.B_FRICTION_TURN], body[k.B_FRICTION] = 1.0 / FRICTION_TURN, steering.friction / FRICTION_TURN
    axle = np.zeros((2, 13))
    wheel = np.zeros(k.WHEEL_SIZE)
    inverses = []
    stops = np.zeros((2, _STOP_NODES + 1, 4))
    for a, parts in enumerate(vehicle.axles):
        tyre = parts.tyre
        ground = _ground(vehicle, a)
        lump, own = parts.lumped
        farthest = parts.farthest
        axle[a] = (
            parts.mass.mass,
            *own,
            2.0 * parts.spin_inertia / tyre.free_radius,
            0.5 * parts.axle.track,
            parts.axle.centre_z0,
            lump,
            0.0,
            ground,
            max(parts.axle.reach[0], -farthest),
            min(parts.axle.reach[1], farthest),
            steering.inertia if steering is not None and a == 0 else 0.0,
        )
        stops[a], stop_step = _stop_table(parts)
        damper, middle = parts.damper, float(np.mean(parts.axle.damper))
        cells_of_damper, low, spacing = damper.inverse(lag)
        inverses.append(cells_of_damper)
        rigid = damper.rigid
        values = {
            k.W_STOP: parts.stop_height,
            k.W_SL: parts.stop_loss / (2.0 - parts.stop_loss) if friction else 0.0,
            k.W_KM: damper.yields,
            k.W_CM: RIGID_MOUNT if rigid else damper.mount_damping,
            k.W_FC: damper.friction if friction else 0.0,
            k.W_GAS: damper.gas,
            k.W_LD: middle,
            k.W_SOFT: 0.0 if rigid else 1.0,
            k.W_OPEN: middle - damper.open_length,
            k.W_CLOSED: middle - damper.closed_length,
            k.W_TOP: damper.ends[0],
            k.W_BOTTOM: damper.ends[1],
            k.W_Y0: low,
            k.W_DY: 1.0 / spacing,
            k.W_DS: 1.0 / stop_step,
            k.W_TK: tyre.vertical_stiffness,
            k.W_TC: tyre.vertical_damping,
            k.W_R0: tyre.free_radius,
            k.W_D0: tyre.toe,
            k.W_S0: tyre.relaxation_base,
            # bushes that give sideways lie in series with the carcass: the tyre then takes longer to build its force
            k.W_S1: tyre.relaxation_gain + parts.give.shift * tyre.cornering_stiffness / tyre.reference_load,
            k.W_CA: tyre.cornering_gain / (3.0 * tyre.friction),
            k.W_NK: 1.0 / tyre.cornering_load,
            k.W_MU: tyre.friction,
            k.W_TD: tyre.carcass_time,
            k.W_KC: tyre.camber_gain if camber else 0.0,
            k.W_RK: ground,
            k.W_SD: 0.5 * parts.drive_share,
            k.W_SB: 0.5 * parts.brake_share,
            k.W_A0: 0.5 * tyre.half_contact,
            k.W_A1: 0.5 * tyre.half_contact / tyre.reference_load,
            k.W_CS: parts.give.steer[0],
            k.W_CX: parts.give.steer[1],
            k.W_CC: parts.give.inclination,
            k.W_TURNS: 1.0 - a,
            k.W_HD: float(parts.carries_drive),
            k.W_HB: float(parts.carries_brakes),
        }
        if friction and parts.spring_friction > 0.0:
            values |= {k.W_FB: 1.0 / parts.friction_travel, k.W_FS: parts.spring_friction / parts.friction_travel}
        if friction and parts.bush_friction > 0.0:
            values |= {k.W_BB: 1.0 / parts.bush_travel, k.W_BS: parts.bush_friction / parts.bush_travel}
        for side in (0, 1):
            n = int(2 * a + side)
            values |= {k.W_K: parts.spring_rate[side], k.W_L0: parts.spring_length[side]}
            values |= {k.W_CB: parts.give.brake_steer[side]}
            if steering is not None and a == 0:
                moves = steering.wheel(1.0 - 2.0 * side)
                values |= dict(zip((k.W_GX, k.W_GY, k.W_GZ, k.W_GZZ, k.W_GT, k.W_GL), moves, strict=True))
                values |= {k.W_GS: 1.0, k.W_P0: steering.pitch, k.W_I0: steering.lean[side]}
                if not parts.carries_brakes:
                    values |= {k.W_GL: 0.0}
            for offset, value in values.items():
                wheel[int(offset) + n] = value
    front, rear = (parts.cells for parts in vehicle.axles)
    table, grid = _one_behind_the_other(_Same(front[0]), _Same(rear[0])), np.concatenate([front[1], rear[1]])
    return Packed(
        body=body,
        axle=axle,
        wheel=wheel,
        table=table,
        grid=grid,
        inverse=np.stack(inverses),
        stops=stops,
        frame=None if vehicle.frame is None else vehicle.frame.packed(b.inertia[0]),
        shape=vehicle.twist_shape,
    )


def repack(packed: Packed, vehicle: Vehicle) -> Packed:
    """Return the arrays of a vehicle that differs from the one packed in its body, spring rates and lengths only."""
    body, axle, wheel = packed.body.copy(), packed.axle.copy(), packed.wheel.copy()
    body[:11] = _body_row(vehicle)
    for a, parts in enumerate(vehicle.axles):
        axle[a, _GROUND_AT] = _ground(vehicle, a)
        for side in (0, 1):
            n = 2 * a + side
            wheel[int(k.W_RK) + n] = axle[a, _GROUND_AT]
            wheel[int(k.W_K) + n], wheel[int(k.W_L0) + n] = parts.spring_rate[side], parts.spring_length[side]
    frame = None if vehicle.frame is None else vehicle.frame.packed(vehicle.body.inertia[0])
    return replace(packed, body=body, axle=axle, wheel=wheel, frame=frame, shape=vehicle.twist_shape)


def _body_row(vehicle: Vehicle) -> tuple[float, ...]:
    b, tensor = vehicle.body, vehicle.body.tensor
    return (b.mass, *b.inertia, *b.centre, vehicle.gravity, tensor[0, 1], tensor[0, 2], tensor[1, 2])


def _ground(vehicle: Vehicle, a: int) -> float:
    """Return the loaded radius of an axle's wheels [m]."""
    tyre = vehicle.axles[a].tyre
    return tyre.free_radius - tyre.deflection(_static_load(vehicle, a))


def _rising(lengths: Floats, further: Callable[[Floats], Floats], rate: float) -> None:
    """Refuse a spring whose whole force falls while it is compressed over the lengths of a map."""
    grid = np.linspace(float(lengths.min()), float(lengths.max()), _ENERGY_NODES)
    force = further(grid) - rate * grid
    if not np.all(np.isfinite(force)):
        raise DomainError("spring: its force is not a number somewhere along its travel")
    whole = np.diff(force)
    at = int(np.argmax(whole))
    if whole[at] > 0.01 * rate * (grid[1] - grid[0]):
        slope = whole[at] / (grid[1] - grid[0])
        raise DomainError(
            f"spring: at a length of {1e3 * grid[at]:.0f} mm its force falls by {1e-3 * slope:.1f} N a millimetre of "
            "compression; a force that rises with compression everywhere is needed"
        )


def _static_load(vehicle: Vehicle, a: int) -> float:
    """Return the load of one wheel of an axle by the lever rule [N]."""
    front, rear = vehicle.front.axle.design_x, vehicle.rear.axle.design_x
    share = (vehicle.body.centre[0] - rear) / (front - rear)
    sprung = vehicle.body.mass * (share if a == 0 else 1.0 - share)
    return max((sprung + vehicle.axles[a].mass.mass) * vehicle.gravity / 2.0, 0.0)


# A vehicle is packed again for every load it stands under, and after every edit of its programme, mostly with dampers,
# stops and maps that are the same numbers: what is made of them is kept by those numbers.


@lru_cache(maxsize=64)
def _map_cells(values: bytes, shape: tuple[int, int, int], grid: bytes) -> Floats:
    """Return the cells of an axle's map, one behind the other."""
    flat = cells(fit(np.frombuffer(values).reshape(shape)), np.frombuffer(grid)).ravel()
    flat.flags.writeable = False
    return flat


class _Same:
    """An array that nobody changes, told from others by which it is."""

    __slots__ = ("array",)

    def __init__(self, array: Floats) -> None:
        self.array = array

    def __hash__(self) -> int:
        return id(self.array)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.array is self.array


@lru_cache(maxsize=8)
def _one_behind_the_other(front: _Same, rear: _Same) -> Floats:
    return np.concatenate([front.array, rear.array])  # left writeable: the kernels are compiled for such arrays


def _stop_table(parts: AxleParts) -> tuple[Floats, float]:
    """Return the cells of force over compression, and the spacing."""
    c, f = parts.stop_compression, parts.stop_force
    if c.size < 2 or c[0] != 0.0 or np.any(np.diff(c) <= 0.0) or np.any(np.diff(f) < 0.0):
        raise DomainError("bump stop: compression and force must rise from 0")
    return _stop_cells(tuple(c.tolist()), tuple(f.tolist()))


@lru_cache(maxsize=256)
def _stop_cells(c: tuple[float, ...], f: tuple[float, ...]) -> tuple[Floats, float]:
    grid = np.linspace(0.0, c[-1], _STOP_NODES)
    curve = PchipInterpolator(c, f)
    made = curve_cells(curve(grid), curve.derivative()(grid), float(grid[1]))
    made.flags.writeable = False
    return made, float(grid[1])
