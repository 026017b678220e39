"""Solved poses of a linkage at many inputs, and what can be read from them with exact slopes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from tussock.mechanics.arrays import Floats, Ints, cross
from tussock.mechanics.linkage.model import CHASSIS, Joint, Linkage, Rod

STATUS_WORDS = {
    0: "solved",
    1: "Newton's iteration did not converge",
    2: "the equilibrium is unstable (the linkage snaps over)",
    3: "the equations are singular (the linkage locks)",
    4: "not reached, since the neighbour nearer to design could not be solved",
}


@dataclass(frozen=True, kw_only=True)
class Solution:
    """Equilibria of a linkage, one row for each row of inputs.

    Attributes
    ----------
    linkage : Linkage
    inputs : array (np, nu)
        Prescribed coordinates [m or rad].
    position, rotation : array (np, nb, 3), (np, nb, 3, 3)
        Reference points [m] and attitudes of the bodies.
    twist : array (np, nb, nu, 6)
        Velocity of the reference point and angular velocity of each body per unit of each input, exact.
    coordinates : array (np, n)
        Coordinates; those of a free body's rotation are zero, `rotation` has it.
    multipliers : array (np, m)
        Force of each hard row (a rod: tension) [N or N m].
    energy : array (np,)
        Elastic energy [J].
    force : array (np, nu)
        Generalised force that holds each input [N or N m], positive along the input.
    stiffness : array (np, nu, nu)
        What the soft rows add to the rates over the inputs [N/m, N, N m/rad].
    slope : array (np, n, nu)
        Coordinates by input.
    hard_residual : array (np,)
        Largest error of a hard row [m or rad].
    distance : array (np,)
        Next Newton step, which is the distance to equilibrium [m, a radian counted as 0.5 m].
    iterations, pieces, status : array (np,)
        Newton steps; pieces that the input step was cut into; see ``STATUS_WORDS``.
    loaded : tuple of body names
        Bodies that `give` is about.
    give : array (np, 6 k, 6 k)
        Motion (x, y, z [m]; rotation about x, y, z [rad]) of the reference point of each of them by load there
        (force [N]; moment [N m]), in chassis axes, inputs held; symmetric.
    """

    linkage: Linkage
    inputs: Floats
    position: Floats
    rotation: Floats
    twist: Floats
    coordinates: Floats
    multipliers: Floats
    energy: Floats
    force: Floats
    stiffness: Floats
    slope: Floats
    hard_residual: Floats
    distance: Floats
    iterations: Ints
    pieces: Ints
    status: Ints
    give: Floats
    loaded: tuple[str, ...] = ()

    def take(self, rows: Ints) -> Solution:
        """Solution of the chosen rows."""
        fields = {
            name: getattr(self, name)[rows] for name in self.__dataclass_fields__ if name not in ("linkage", "loaded")
        }
        return Solution(linkage=self.linkage, loaded=self.loaded, **fields)

    @cached_property
    def lock_factor(self) -> Floats:
        """Largest motion of any coordinate per unit of an input (np,) [-]; 1 in mid travel, above 5 near a lock."""
        free = self.linkage.tables.free
        scale = self.linkage.tables.scale
        ratio = self.slope[:, free, :] * scale[free, None] / scale[self.linkage.tables.held]
        return np.asarray(np.max(np.abs(ratio), axis=(1, 2)))

    def point(self, body: str, at: Floats) -> Floats:
        """Where a point of a body goes (np, 3) [m]; `at` is its place in the stock pose, in chassis axes."""
        if body == CHASSIS:
            return np.broadcast_to(np.asarray(at, dtype=np.float64), (self.inputs.shape[0], 3))
        k = self.linkage.index[body]
        return np.asarray(self.position[:, k] + self.rotation[:, k] @ (at - self.linkage.bodies[k].at))

    def point_slope(self, body: str, at: Floats) -> Floats:
        """Motion of a point of a body per unit of each input (np, nu, 3)."""
        if body == CHASSIS:
            return np.zeros((self.inputs.shape[0], self.inputs.shape[1], 3))
        k = self.linkage.index[body]
        lever = self.rotation[:, k] @ (at - self.linkage.bodies[k].at)
        return np.asarray(self.twist[:, k, :, :3] + cross(self.twist[:, k, :, 3:], lever[:, None, :]))

    def direction(self, body: str, vector: Floats) -> Floats:
        """Where a direction fixed in a body points (np, 3) [-]; `vector` is its direction in the stock pose."""
        if body == CHASSIS:
            return np.broadcast_to(np.asarray(vector, dtype=np.float64), (self.inputs.shape[0], 3))
        return np.asarray(self.rotation[:, self.linkage.index[body]] @ vector)

    def direction_slope(self, body: str, vector: Floats) -> Floats:
        """Change of a body's direction per unit of each input (np, nu, 3)."""
        if body == CHASSIS:
            return np.zeros((self.inputs.shape[0], self.inputs.shape[1], 3))
        spin = self.twist[:, self.linkage.index[body], :, 3:]
        return cross(spin, self.direction(body, vector)[:, None, :])

    def length(self, body_a: str, at_a: Floats, body_b: str, at_b: Floats) -> tuple[Floats, Floats]:
        """Distance between points of two bodies (np,) [m] and its slope by input (np, nu)."""
        gap = self.point(body_b, at_b) - self.point(body_a, at_a)
        size = np.sqrt(np.einsum("pi,pi->p", gap, gap))
        rate = self.point_slope(body_b, at_b) - self.point_slope(body_a, at_a)
        with np.errstate(invalid="ignore", divide="ignore"):
            slope = np.where(size[:, None] > 0.0, np.einsum("pi,pui->pu", gap, rate) / size[:, None], 0.0)
        return size, slope

    def joint_rows(self, name: str) -> Floats:
        """Values of a joint's six rows (np, 6) [m, m, m, -, -, rad]; a rod has its change of length in row 0."""
        e, element = self._element(name)
        lever_a = self.linkage.tables.ef[e, 0:3]
        lever_b = self.linkage.tables.ef[e, 3:6]
        gap = self._fixed_point(element.body_b, lever_b) - self._fixed_point(element.body_a, lever_a)
        rows = np.zeros((self.inputs.shape[0], 6))
        if isinstance(element, Rod):
            rows[:, 0] = np.linalg.norm(gap, axis=1) - element.length
            return rows
        a = np.stack([self.direction(element.body_a, axis) for axis in element.frame_a], axis=1)
        b = np.stack([self.direction(element.body_b, axis) for axis in element.frame_b], axis=1)
        rows[:, 0:3] = np.einsum("pki,pi->pk", a, gap)
        rows[:, 3] = np.einsum("pi,pi->p", a[:, 0], b[:, 2])
        rows[:, 4] = np.einsum("pi,pi->p", a[:, 1], b[:, 2])
        cross = np.einsum("pki,pli->pkl", b[:, :2], a[:, :2])
        rows[:, 5] = np.arctan2(cross[:, 0, 1] - cross[:, 1, 0], cross[:, 0, 0] + cross[:, 1, 1])
        return rows

    def joint_loads(self, name: str) -> Floats:
        """Load of a joint's six rows (np, 6) [N, N, N, N m, N m, N m] in the joint's frame; a rod: tension in row 0.

        The load acts on body B towards negative row values, that is, it opposes the row's deflection.
        """
        e, _ = self._element(name)
        tables = self.linkage.tables
        values = self.joint_rows(name)
        loads = np.zeros_like(values)
        row = int(tables.ei[e, 3])
        for w in range(6):
            mode = tables.ei[e, 4 + w]
            if mode == 2:
                loads[:, w] = self.multipliers[:, row]
                row += 1
            elif mode == 1:
                rate, progressive, gap = tables.ek[e, 3 * w : 3 * w + 3]
                over = np.maximum(np.abs(values[:, w]) - gap, 0.0)
                loads[:, w] = rate * values[:, w] + progressive * over**2 * np.sign(values[:, w])
        return loads

    def _element(self, name: str) -> tuple[int, Rod | Joint]:
        for e, element in enumerate(self.linkage.elements):
            if element.name == name:
                return e, element
        raise KeyError(name)

    def _fixed_point(self, body: str, lever: Floats) -> Floats:
        if body == CHASSIS:
            return np.broadcast_to(lever, (self.inputs.shape[0], 3))
        return self.point(body, lever + self.linkage.bodies[self.linkage.index[body]].at)
