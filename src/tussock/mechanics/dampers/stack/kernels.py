"""Compiled part of the disc stack: plates with moderate rotations in exact frictionless contact.

One radial grid ``r`` (M nodes, rising) serves all discs; disc ``k`` is clamped up to node ``clamp[k]`` and ends at
node ``rim[k]`` (0-based, both nodes included). Per free node three unknowns, in this order: radial displacement u,
deflection w, slope b = w'. Deflection is a cubic Hermite function; u is linear plus one quadratic bubble in each
element. Local free node ``m`` of disc ``k`` is node ``clamp[k] + 1 + m``. SI units. Every energy is of the whole ring.

Contacts are (lower disc, upper disc, node); -1 is the seat, n the backing washer, both rigid. A contact force acts on
two columns of compliance: ``2 m`` of the lower disc (its upper face) and ``2 m + 1`` of the upper one (its lower face).
The tangent of the Lagrangian is factored per disc; the forces come from the linear complementarity problem of the
linearised gaps; the step's length comes from the exact cubic slope of the Lagrangian along the step.
"""

from __future__ import annotations

import math

import numpy as np

from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.compiled import kernel

#: What half a disc's thickness yields to pressure on its face, over thickness x pressure/modulus [-]: a plate's stress
#: across its thickness is a cubic that falls from face to face; its mean over the upper half is 13/16.
SQUASH = 13.0 / 32.0
#: What a disc yields to the line force of a rim, over force per length/modulus [-]. Found from stacks as solids, as
#: INSET is: within 1.5 to 3 no lift moves by more than 0.06 %.
YIELD = 2.0
#: How far inside a rim its force acts between discs, which part at a flat angle there, over the thicker one's thickness
#: [-]. The backing washer's edge stays sharp: the disc turns away from it steeply.
INSET = 0.03
SOLVED, NO_CONVERGENCE, NOT_DEFINITE, NO_CONTACT_SET = 0, 1, 2, 3


@kernel
def element_tables(r: Floats, nodes: Floats, weights: Floats, shear: float, table: Floats) -> None:
    """Fill `table` (M-1, 3, 20) of one disc at each Gauss point.

    Ring weight, 1/r, slope w' (4), curvature (4), u (3), u' (3), section rotation (4). `shear` is 12 D/(kappa G t)
    [m^2]: deflection and rotation are linked so that the shear strain is constant in an element, w' is the rotation
    plus the strain, and without shear flexibility the cubic Hermite functions are left: nothing locks.
    """
    for e in range(r.size - 1):
        h = r[e + 1] - r[e]
        soft = shear / (h * h)
        part = 1.0 / (1.0 + soft)
        strain = soft * part
        for g in range(3):
            x = nodes[g]
            y = 1.0 - x
            q = table[e, g]
            radius = r[e] + h * x
            q[0] = 2.0 * math.pi * radius * weights[g] * h
            q[1] = 1.0 / radius
            q[16] = -6.0 * x * y * part / h
            q[17] = y * (1.0 - 3.0 * x + soft) * part
            q[18] = -q[16]
            q[19] = x * (3.0 * x - 2.0 + soft) * part
            q[2] = q[16] - strain / h
            q[3] = q[17] - 0.5 * strain
            q[4] = -q[2]
            q[5] = q[19] - 0.5 * strain
            q[6] = (12.0 * x - 6.0) * part / (h * h)
            q[7] = (6.0 * x - 4.0 - soft) * part / h
            q[8] = -q[6]
            q[9] = (6.0 * x - 2.0 + soft) * part / h
            q[10] = y
            q[11] = x
            q[12] = 4.0 * x * y
            q[13] = -1.0 / h
            q[14] = 1.0 / h
            q[15] = 4.0 * (1.0 - 2.0 * x) / h


@kernel
def disc_tables(
    table: Floats, first: int, last: int, bending: float, root: float, shear: float, membrane: float, poisson: float,
    bend: Floats, strain: Floats, bubble: Floats, plane: Floats, chain: Floats,
) -> None:  # fmt: skip
    """Fill the constant matrices of one disc over elements `first` to `last` - 1.

    `bend` (E, 4, 4), shear included; `strain` (E, 3, 3) makes (e_r + nu e_t) of u; `bubble` (E, 3) its stiffness
    against (u0, u1) and itself; `plane` (E, 3) the condensed membrane stiffness (00, 01, 11); `chain` (M, 2) its
    factors L D L' by node. `shear` as `element_tables` takes it; `root` multiplies the bending stiffness
    of the first element.
    """
    full = np.zeros((3, 3))
    stiff = 12.0 * bending / shear if shear > 0.0 else 0.0
    for e in range(first, last):
        full[:] = 0.0
        plate = bending * root if e == first else bending
        for g in range(3):
            q = table[e, g]
            for i in range(4):
                for j in range(4):
                    bend[e, i, j] += q[0] * (plate * (
                        q[6 + i] * q[6 + j]
                        + poisson * q[1] * (q[6 + i] * q[16 + j] + q[16 + i] * q[6 + j])
                        + q[1] * q[1] * q[16 + i] * q[16 + j]
                    ) + stiff * (q[2 + i] - q[16 + i]) * (q[2 + j] - q[16 + j]))  # fmt: skip
            for i in range(3):
                strain[e, g, i] = q[13 + i] + poisson * q[10 + i] * q[1]
            for i in range(3):
                for j in range(3):
                    full[i, j] += membrane * q[0] * (q[13 + i] * strain[e, g, j] + q[10 + i] * q[1] * (
                        q[10 + j] * q[1] + poisson * q[13 + j]))  # fmt: skip
        for i in range(3):
            bubble[e, i] = full[2, i]
        plane[e, 0] = full[0, 0] - full[0, 2] * full[0, 2] / full[2, 2]
        plane[e, 1] = full[0, 1] - full[0, 2] * full[1, 2] / full[2, 2]
        plane[e, 2] = full[1, 1] - full[1, 2] * full[1, 2] / full[2, 2]
    for i in range(first + 1, last + 1):
        pivot = plane[i - 1, 2]
        if i < last:
            pivot += plane[i, 0]
        chain[i, 1] = 0.0
        if i > first + 1:
            chain[i, 1] = plane[i - 1, 1] / chain[i - 1, 0]
            pivot -= chain[i, 1] * plane[i - 1, 1]
        chain[i, 0] = pivot


@kernel
def settle_membrane(
    table: Floats, first: int, last: int, membrane: float, strain: Floats, bubble: Floats, chain: Floats,
    left: Floats, right: Floats, u: Floats, inner: Floats,
) -> None:  # fmt: skip
    """Find the membrane state (`u` by node, bubble `inner` by element) of the source slope product left x right / 2.

    `left` and `right` (M, 2) hold w and slope by node. Linear in the source, so that states along a step add up.
    """
    for i in range(first, last + 1):
        u[i] = 0.0
    for e in range(first, last):
        f0 = f1 = f2 = 0.0
        for g in range(3):
            q = table[e, g]
            x = q[2] * left[e, 0] + q[3] * left[e, 1] + q[4] * left[e + 1, 0] + q[5] * left[e + 1, 1]
            y = q[2] * right[e, 0] + q[3] * right[e, 1] + q[4] * right[e + 1, 0] + q[5] * right[e + 1, 1]
            s = 0.5 * membrane * q[0] * x * y
            f0 -= s * strain[e, g, 0]
            f1 -= s * strain[e, g, 1]
            f2 -= s * strain[e, g, 2]
        f2 /= bubble[e, 2]
        inner[e] = f2
        u[e] += f0 - bubble[e, 0] * f2
        u[e + 1] += f1 - bubble[e, 1] * f2
    u[first] = 0.0
    for i in range(first + 2, last + 1):
        u[i] -= chain[i, 1] * u[i - 1]
    for i in range(first + 1, last + 1):
        u[i] /= chain[i, 0]
    for i in range(last - 1, first, -1):
        u[i] -= chain[i + 1, 1] * u[i + 1]
    for e in range(first, last):
        inner[e] -= (bubble[e, 0] * u[e] + bubble[e, 1] * u[e + 1]) / bubble[e, 2]


@kernel
def factor_disc(
    table: Floats, first: int, last: int, membrane: float, linear: bool, bend: Floats, strain: Floats, bubble: Floats,
    plane: Floats, deflection: Floats, u: Floats, inner: Floats, face_spring: Floats, force: Floats, band: Floats,
) -> bool:  # fmt: skip
    """Internal `force` (M, 2) and factored tangent `band` (3 (last - first), 6) of one disc; False if not definite.

    ``band[i, j]`` is the factor's entry (i, i - j); its diagonal holds the reciprocal. `face_spring` (M) stands on the
    slopes: the contact forces' share in the tangent of the Lagrangian.
    """
    size = 3 * (last - first)
    element = np.zeros((6, 6))
    q4 = np.zeros(4)
    wa = np.zeros(4)
    place = np.zeros(6, np.int64)
    for i in range(size):
        for j in range(6):
            band[i, j] = 0.0
    for i in range(first, last + 1):
        force[i, 0] = 0.0
        force[i, 1] = 0.0
    for e in range(first, last):
        q4[0], q4[1] = deflection[e, 0], deflection[e, 1]
        q4[2], q4[3] = deflection[e + 1, 0], deflection[e + 1, 1]
        for i in range(4):
            s = 0.0
            for j in range(4):
                s += bend[e, i, j] * q4[j]
            force[e + i // 2, i % 2] += s
            wa[i] = 0.0
            for j in range(i + 1):
                element[i, j] = bend[e, i, j]
            element[4, i] = 0.0
            element[5, i] = 0.0
        element[4, 4], element[5, 4], element[5, 5] = plane[e, 0], plane[e, 1], plane[e, 2]
        if not linear:
            for g in range(3):
                q = table[e, g]
                b = q[2] * q4[0] + q[3] * q4[1] + q[4] * q4[2] + q[5] * q4[3]
                t = strain[e, g]
                resultant = q[0] * membrane * (t[0] * u[e] + t[1] * u[e + 1] + t[2] * inner[e] + 0.5 * b * b)
                stiff = q[0] * membrane * b
                both = resultant + stiff * b
                for i in range(4):
                    force[e + i // 2, i % 2] += resultant * b * q[2 + i]
                    x = both * q[2 + i]
                    y = stiff * q[2 + i]
                    for j in range(i + 1):
                        element[i, j] += x * q[2 + j]
                    element[4, i] += y * t[0]
                    element[5, i] += y * t[1]
                    wa[i] += y * t[2]
            for i in range(4):
                x = wa[i] / bubble[e, 2]
                for j in range(i + 1):
                    element[i, j] -= x * wa[j]
                element[4, i] -= x * bubble[e, 0]
                element[5, i] -= x * bubble[e, 1]
        base = 3 * (e - first - 1)
        place[0], place[1], place[2], place[3] = base + 1, base + 2, base + 4, base + 5
        place[4], place[5] = base, base + 3
        for i in range(6):
            for j in range(i + 1):
                a = max(place[i], place[j])
                c = min(place[i], place[j])
                if c >= 0:
                    band[a, a - c] += element[i, j]
    for i in range(first + 1, last + 1):
        band[3 * (i - first - 1) + 2, 0] += face_spring[i]
    for i in range(size):
        for j in range(min(5, i), 0, -1):
            s = band[i, j]
            for m in range(1, min(5 - j, i - j) + 1):
                s -= band[i, j + m] * band[i - j, m]
            band[i, j] = s * band[i - j, 0]
        s = band[i, 0]
        for m in range(1, min(5, i) + 1):
            s -= band[i, m] * band[i, m]
        if not s > 0.0:
            return False
        band[i, 0] = 1.0 / math.sqrt(s)
    return True


@kernel
def solve_band(band: Floats, size: int, x: Floats) -> None:
    """Solve with the factor of `factor_disc`, in place."""
    for i in range(size):
        s = x[i]
        for m in range(1, min(5, i) + 1):
            s -= band[i, m] * x[i - m]
        x[i] = s * band[i, 0]
    for i in range(size - 1, -1, -1):
        s = x[i]
        for m in range(1, min(5, size - 1 - i) + 1):
            s -= band[i + m, m] * x[i + m]
        x[i] = s * band[i, 0]


@kernel
def face_compliance(band: Floats, first: int, last: int, arm: Floats, work: Floats, compliance: Floats) -> None:
    """Deflection of every face point under a unit force on every other: `compliance` (2 N, 2 N), N free nodes.

    `arm` (M, 2) is how far outside the node the forces on the upper and the lower face act: they turn the disc as well.
    All columns are solved at once, each row only for the columns of nodes up to its own; symmetry gives the rest.
    """
    count = last - first
    size = 3 * count
    for i in range(size):
        row = work[i]
        width = 2 * (i // 3 + 1)
        row[width - 2] = 0.0
        row[width - 1] = 0.0
        if i % 3 == 1:
            row[width - 2] = -1.0
            row[width - 1] = 1.0
        elif i % 3 == 2:
            row[width - 2] = -arm[first + 1 + i // 3, 0]
            row[width - 1] = -arm[first + 1 + i // 3, 1]
        for c in range(width - 2):
            row[c] = 0.0
        for m in range(1, min(5, i) + 1):
            f = band[i, m]
            above = work[i - m]
            for c in range(2 * ((i - m) // 3 + 1)):
                row[c] -= f * above[c]
        f = band[i, 0]
        for c in range(width):
            row[c] *= f
    for i in range(size - 1, -1, -1):
        row = work[i]
        width = 2 * (i // 3 + 1)
        for m in range(1, min(5, size - 1 - i) + 1):
            f = band[i + m, m]
            below = work[i + m]
            for c in range(width):
                row[c] -= f * below[c]
        f = band[i, 0]
        for c in range(width):
            row[c] *= f
    for n in range(count):
        over = arm[first + 1 + n, 0]
        under = arm[first + 1 + n, 1]
        deflect = work[3 * n + 1]
        turn = work[3 * n + 2]
        for c in range(2 * n + 2):
            x = -over * turn[c] - deflect[c]
            y = -under * turn[c] + deflect[c]
            compliance[2 * n, c] = x
            compliance[2 * n + 1, c] = y
            compliance[c, 2 * n] = x
            compliance[c, 2 * n + 1] = y


@kernel
def list_contacts(
    clamp: Ints, rim: Ints, thickness: Floats, gap: Floats, seat_node: Ints, seat_height: Floats, washer: int,
    nodes: int, contact: Ints, room: Floats,
) -> int:  # fmt: skip
    """Fill `contact` (C, 3: lower, upper, node) and the gaps at rest `room` (C), by upper disc; return their number.

    Partners at a node are consecutive among the discs that reach it, so beyond a small ring its neighbours meet.
    `gap[k]` (n + 1) lies under disc k, `gap[n]` under the washer; `washer` is the node of its edge or -1.
    """
    n = clamp.size
    count = 0
    for s in range(seat_node.size):
        if rim[0] >= seat_node[s] > clamp[0]:
            contact[count, 0], contact[count, 1], contact[count, 2] = -1, 0, seat_node[s]
            room[count] = -seat_height[s]
            count += 1
    for upper in range(1, n + 1):
        last = washer if upper == n else rim[upper]
        for i in range(1, min(last, nodes - 1) + 1):
            free = gap[upper]
            lower = upper - 1
            while lower >= 0 and rim[lower] < i:
                free += thickness[lower] + gap[lower]
                lower -= 1
            if lower < 0 or (i <= clamp[lower] and (upper == n or i <= clamp[upper])):
                continue
            contact[count, 0], contact[count, 1], contact[count, 2] = lower, upper, i
            room[count] = free
            count += 1
    return count


@kernel
def contact_forces(
    active: Ints, number: int, contact: Ints, column: Ints, start: Ints, compliance: Floats, soft: Floats,
    free: Floats, store: Floats, row: Ints, block: Ints, force: Floats,
) -> bool:  # fmt: skip
    """Forces that close the gaps `free` of the `number` active contacts; envelope factorization of their compliance.

    Rows are ordered by upper disc: a contact meets no contact before the first one whose upper disc is its lower disc.
    """
    fill = 0
    for a in range(number):
        p = active[a]
        lower, upper = contact[p, 0], contact[p, 1]
        reach = upper if lower < 0 or column[p, 0] < 0 else lower
        if a == 0 or contact[active[a - 1], 1] != upper:
            previous = -1 if a == 0 else contact[active[a - 1], 1]
            for k in range(previous + 1, upper + 1):
                block[k] = a
        begin = block[reach]
        start[a] = begin
        row[a] = fill - begin
        fill += a - begin + 1
        at = row[a]
        mine_low, mine_up = column[p, 0], column[p, 1]
        for b in range(begin, a + 1):
            o = active[b]
            s = 0.0
            if mine_low >= 0:
                if contact[o, 0] == lower and column[o, 0] >= 0:
                    s += compliance[lower, mine_low, column[o, 0]]
                if contact[o, 1] == lower and column[o, 1] >= 0:
                    s += compliance[lower, mine_low, column[o, 1]]
            if mine_up >= 0 and contact[o, 1] == upper and column[o, 1] >= 0:
                s += compliance[upper, mine_up, column[o, 1]]
            store[at + b] = s
        store[at + a] += soft[p]
        for b in range(begin, a + 1):
            other = row[b]
            c = max(begin, start[b])
            s0 = s1 = s2 = s3 = 0.0
            while c + 4 <= b:
                s0 += store[at + c] * store[other + c]
                s1 += store[at + c + 1] * store[other + c + 1]
                s2 += store[at + c + 2] * store[other + c + 2]
                s3 += store[at + c + 3] * store[other + c + 3]
                c += 4
            while c < b:
                s0 += store[at + c] * store[other + c]
                c += 1
            s = store[at + b] - ((s0 + s1) + (s2 + s3))
            if b < a:
                store[at + b] = s * store[other + b]
            else:
                if not s > 0.0:
                    return False
                store[at + a] = 1.0 / math.sqrt(s)
        s = -free[p]
        for b in range(begin, a):
            s -= store[at + b] * force[active[b]]
        force[p] = s * store[at + a]
    for a in range(number - 1, -1, -1):
        p = active[a]
        at = row[a]
        s = force[p] * store[at + a]
        force[p] = s
        for b in range(start[a], a):
            force[active[b]] -= store[at + b] * s
    return True


@kernel
def move(
    contact: Ints, column: Ints, count: int, clamp: Ints, rim: Ints, band: Floats, residual: Floats, arm: Floats,
    force: Floats, rhs: Floats, step: Floats,
) -> None:  # fmt: skip
    """Step (n, M, 2) of deflection and slope under the residual and the contact forces."""
    n, nodes = clamp.size, step.shape[1]
    for k in range(n):
        for i in range(nodes):
            step[k, i, 0] = residual[k, i, 0]
            step[k, i, 1] = residual[k, i, 1]
    for p in range(count):
        if force[p] != 0.0:
            i = contact[p, 2]
            if column[p, 0] >= 0:
                k = contact[p, 0]
                step[k, i, 0] -= force[p]
                step[k, i, 1] -= force[p] * arm[k, i, 0]
            if column[p, 1] >= 0:
                k = contact[p, 1]
                step[k, i, 0] += force[p]
                step[k, i, 1] -= force[p] * arm[k, i, 1]
    for k in range(n):
        size = 3 * (rim[k] - clamp[k])
        for m in range(rim[k] - clamp[k]):
            i = clamp[k] + 1 + m
            rhs[3 * m] = 0.0
            rhs[3 * m + 1] = step[k, i, 0]
            rhs[3 * m + 2] = step[k, i, 1]
        solve_band(band[k], size, rhs)
        for i in range(nodes):
            step[k, i, 0] = 0.0
            step[k, i, 1] = 0.0
        for m in range(rim[k] - clamp[k]):
            i = clamp[k] + 1 + m
            step[k, i, 0] = rhs[3 * m + 1]
            step[k, i, 1] = rhs[3 * m + 2]


@kernel
def gaps_after(
    contact: Ints, column: Ints, count: int, room: Floats, lever: Floats, arm: Floats, deflection: Floats, step: Floats,
    out: Floats,
) -> None:  # fmt: skip
    """Gaps at the linearised end of a step; with a zero step, half of `lever` (t b / 2) is what the faces take."""
    for p in range(count):
        i = contact[p, 2]
        s = room[p]
        if column[p, 0] >= 0:
            k = contact[p, 0]
            b = deflection[k, i, 1]
            s -= deflection[k, i, 0] + step[k, i, 0] + arm[k, i, 0] * (b + step[k, i, 1]) - 0.5 * lever[k, i] * b
        if column[p, 1] >= 0:
            k = contact[p, 1]
            b = deflection[k, i, 1]
            s += deflection[k, i, 0] + step[k, i, 0] - arm[k, i, 1] * (b + step[k, i, 1]) + 0.5 * lever[k, i] * b
        out[p] = s


@kernel
def march(
    r: Floats, clamp: Ints, rim: Ints, thickness: Floats, modulus: Floats, poisson: Floats, shear: Floats,
    root: Floats, gap: Floats, seat_node: Ints, seat_height: Floats, held_seat: int, washer: int, load: Floats,
    pressure: Floats, linear: bool, faces: bool, gauss: Floats, weight: Floats, limits: Floats,
    w_out: Floats, u_out: Floats, inner_out: Floats, contact: Ints, room: Floats, force_out: Floats, gap_out: Floats,
    report: Ints, figures: Floats,
) -> int:  # fmt: skip
    """Solve the stack at each pressure in turn, each from the last; return the number of contacts.

    `load` (M, 2) is the first disc's load (force, couple) of unit pressure. `held_seat` keeps that seat ring shut with
    either sign of its force (-1: none). `limits`: relative step, gap [m], relative force, iterations, pivots.
    Out: `w_out` (P, n, M, 2), `u_out` (P, n, M), `inner_out` (P, n, M-1), `force_out` and `gap_out` (P, C),
    `report` (P, 3): outcome, iterations, pivots; `figures` (P, 2): last relative step and its length.
    """
    n, nodes = clamp.size, r.size
    table = np.zeros((n, nodes - 1, 3, 20))
    bend = np.zeros((n, nodes - 1, 4, 4))
    strain = np.zeros((n, nodes - 1, 3, 3))
    bubble = np.zeros((n, nodes - 1, 3))
    plane = np.zeros((n, nodes - 1, 3))
    chain = np.zeros((n, nodes, 2))
    membrane = np.zeros(n)
    for k in range(n):
        membrane[k] = modulus[k] * thickness[k] / (1.0 - poisson[k] ** 2)
        element_tables(r, gauss, weight, shear[k], table[k])
        disc_tables(table[k], clamp[k], rim[k], membrane[k] * thickness[k] ** 2 / 12.0, root[k], shear[k],
                    membrane[k], poisson[k], bend[k], strain[k], bubble[k], plane[k], chain[k])  # fmt: skip
    count = list_contacts(clamp, rim, thickness, gap, seat_node, seat_height, washer, nodes, contact, room)
    column = np.full((count, 2), -1, np.int64)
    soft = np.zeros(count)
    inward = np.zeros(count)
    shut = np.zeros(count, np.bool_)
    for p in range(count):
        lower, upper, i = contact[p, 0], contact[p, 1], contact[p, 2]
        squash = elastic = thick = 0.0
        if lower >= 0 and i > clamp[lower]:
            column[p, 0] = 2 * (i - clamp[lower] - 1)
        if 0 <= upper < n and i > clamp[upper]:
            column[p, 1] = 2 * (i - clamp[upper] - 1) + 1
        for k in (lower, upper):
            if 0 <= k < n:
                squash += thickness[k] / modulus[k]
                elastic += 1.0 / modulus[k]
                thick = max(thick, thickness[k])
        # with contact at the middle planes only a trace: equal discs that touch without force would leave the set
        # undecided
        share = SQUASH if faces and lower >= 0 else 1e-5
        soft[p] = share * squash / (math.pi * r[i] * (r[min(i + 1, nodes - 1)] - r[i - 1]))
        last = min(rim[lower], washer) if upper == n else min(rim[lower], rim[upper])
        if faces and lower >= 0 and i == last:
            soft[p] = YIELD * elastic / (2.0 * math.pi * r[i])
            if upper < n:
                inward[p] = INSET * thick
        shut[p] = room[p] <= 1e-12
    w = np.zeros((n, nodes, 2))
    u = np.zeros((n, nodes))
    inner = np.zeros((n, nodes - 1))
    u1 = np.zeros((n, nodes))
    inner1 = np.zeros((n, nodes - 1))
    u2 = np.zeros((n, nodes))
    inner2 = np.zeros((n, nodes - 1))
    step = np.zeros((n, nodes, 2))
    residual = np.zeros((n, nodes, 2))
    lever = np.zeros((n, nodes))
    arm = np.zeros((n, nodes, 2))
    push = np.zeros(nodes)
    spring = np.zeros((n, nodes))
    band = np.zeros((n, 3 * nodes, 6))
    compliance = np.zeros((n, 2 * nodes, 2 * nodes))
    work = np.zeros((3 * nodes, 2 * nodes))
    rhs = np.zeros(3 * nodes)
    force = np.zeros(count)
    trial = np.zeros(count)
    feasible = np.zeros(count)
    free = np.zeros(count)
    after = np.zeros(count)
    active = np.zeros(count, np.int64)
    start = np.zeros(count, np.int64)
    row = np.zeros(count, np.int64)
    block = np.zeros(n + 2, np.int64)
    store = np.zeros(count * (count + 1) // 2)
    for at in range(pressure.size):
        outcome, iterations, pivots = NO_CONVERGENCE, 0, 0
        largest = length = 0.0
        while iterations < limits[3]:
            iterations += 1
            for k in range(n):
                for i in range(nodes):
                    spring[k, i] = 0.0
                    lever[k, i] = 0.5 * thickness[k] * w[k, i, 1] if faces else 0.0
                    arm[k, i, 0] = lever[k, i]
                    arm[k, i, 1] = lever[k, i]
            total = 0.0
            if faces:
                for p in range(count):
                    i = contact[p, 2]
                    if column[p, 0] >= 0:
                        arm[contact[p, 0], i, 0] -= inward[p]
                    if column[p, 1] >= 0:
                        arm[contact[p, 1], i, 1] += inward[p]
                    for side in range(2):
                        if column[p, side] >= 0:
                            k = contact[p, side]
                            spring[k, contact[p, 2]] += 0.5 * thickness[k] * max(force[p], 0.0)
                for i in range(nodes):
                    # the pressure stays on its part of the lower face, which swings out with the slope
                    push[i] = 0.5 * thickness[0] * pressure[at] * load[i, 0]
                    spring[0, i] = max(spring[0, i] - push[i], 0.0)
            definite = True
            for k in range(n):
                definite = definite and factor_disc(
                    table[k], clamp[k], rim[k], membrane[k], linear, bend[k], strain[k], bubble[k], plane[k], w[k],
                    u[k], inner[k], spring[k], residual[k], band[k],
                )  # fmt: skip
                for i in range(clamp[k], rim[k] + 1):
                    for d in range(2):
                        residual[k, i, d] = -residual[k, i, d]
                        if k == 0:
                            residual[k, i, d] += pressure[at] * load[i, d]
                    if k == 0:
                        residual[k, i, 1] += push[i] * w[k, i, 1]
                if definite:
                    face_compliance(band[k], clamp[k], rim[k], arm[k], work, compliance[k])
            if not definite:
                outcome = NOT_DEFINITE
                break
            for i in range(nodes):
                total += abs(pressure[at] * load[i, 0])
            for p in range(count):
                trial[p] = 0.0
            move(contact, column, count, clamp, rim, band, residual, arm, trial, rhs, step)
            gaps_after(contact, column, count, room, lever, arm, w, step, free)
            # contact forces: flip every wrong sign; where that does not settle, one at a time with a ratio test
            best, idle, careful, legal, solved = count + 1, 0, False, False, False
            for _ in range(int(limits[4])):
                number = 0
                for p in range(count):
                    trial[p] = 0.0
                    if shut[p]:
                        active[number] = p
                        number += 1
                pivots += 1
                if not contact_forces(
                    active, number, contact, column, start, compliance, soft, free, store, row, block, trial
                ):
                    break
                for p in range(count):
                    total = max(total, trial[p])
                negative = -limits[2] * total
                wrong = 0
                for p in range(count):
                    if trial[p] < negative and contact[p, 0] == -1 and p == held_seat:
                        continue
                    if trial[p] < negative:
                        wrong += 1
                if careful and wrong > 0:
                    if not legal:
                        for p in range(count):
                            if trial[p] < negative and p != held_seat:
                                shut[p] = False
                        continue
                    ratio = 1.0
                    for p in range(count):
                        if shut[p] and trial[p] < negative and p != held_seat:
                            ratio = min(ratio, feasible[p] / (feasible[p] - trial[p]))
                    for p in range(count):
                        if shut[p] and p != held_seat:
                            feasible[p] += ratio * (trial[p] - feasible[p])
                            if trial[p] < negative and feasible[p] <= limits[2] * total:
                                shut[p] = False
                                feasible[p] = 0.0
                    continue
                move(contact, column, count, clamp, rim, band, residual, arm, trial, rhs, step)
                gaps_after(contact, column, count, room, lever, arm, w, step, after)
                worst, where = -limits[1], -1
                for p in range(count):
                    if not shut[p] and after[p] < -limits[1]:
                        wrong += 1
                        if after[p] < worst:
                            worst, where = after[p], p
                if wrong == 0:
                    solved = True
                    break
                if careful:
                    legal = True
                    for p in range(count):
                        feasible[p] = max(trial[p], 0.0)
                    shut[where] = True
                    continue
                if wrong < best:
                    best, idle = wrong, 0
                else:
                    idle += 1
                if idle >= 5:
                    careful = True
                    continue
                for p in range(count):
                    if shut[p]:
                        if trial[p] < negative and p != held_seat:
                            shut[p] = False
                    elif after[p] < -limits[1]:
                        shut[p] = True
            if not solved:
                outcome = NO_CONTACT_SET
                break
            # slope of the Lagrangian along the step: cubic, since the membrane is settled anew at every point
            c0 = c1 = c2 = c3 = 0.0
            for k in range(n):
                for i in range(clamp[k] + 1, rim[k] + 1):
                    if k == 0:
                        c0 -= pressure[at] * (load[i, 0] * step[k, i, 0] + load[i, 1] * step[k, i, 1])
                        c0 -= push[i] * w[k, i, 1] * step[k, i, 1]
                        c1 -= push[i] * step[k, i, 1] ** 2
                if linear:
                    continue
                settle_membrane(table[k], clamp[k], rim[k], membrane[k], strain[k], bubble[k], chain[k], w[k], step[k],
                                u1[k], inner1[k])  # fmt: skip
                settle_membrane(table[k], clamp[k], rim[k], membrane[k], strain[k], bubble[k], chain[k], step[k],
                                step[k], u2[k], inner2[k])  # fmt: skip
                for e in range(clamp[k], rim[k]):
                    u1e, u1f, u1i = 2.0 * u1[k, e], 2.0 * u1[k, e + 1], 2.0 * inner1[k, e]
                    for i in range(4):
                        di = step[k, e + i // 2, i % 2]
                        for j in range(4):
                            c0 += di * bend[k, e, i, j] * w[k, e + j // 2, j % 2]
                            c1 += di * bend[k, e, i, j] * step[k, e + j // 2, j % 2]
                    for g in range(3):
                        q = table[k, e, g]
                        t = strain[k, e, g]
                        b = q[2] * w[k, e, 0] + q[3] * w[k, e, 1] + q[4] * w[k, e + 1, 0] + q[5] * w[k, e + 1, 1]
                        d = (q[2] * step[k, e, 0] + q[3] * step[k, e, 1] + q[4] * step[k, e + 1, 0]
                             + q[5] * step[k, e + 1, 1])  # fmt: skip
                        s = q[0] * membrane[k] * d
                        n0 = t[0] * u[k, e] + t[1] * u[k, e + 1] + t[2] * inner[k, e] + 0.5 * b * b
                        n1 = t[0] * u1e + t[1] * u1f + t[2] * u1i + b * d
                        n2 = t[0] * u2[k, e] + t[1] * u2[k, e + 1] + t[2] * inner2[k, e] + 0.5 * d * d
                        c0 += s * n0 * b
                        c1 += s * (n0 * d + n1 * b)
                        c2 += s * (n1 * d + n2 * b)
                        c3 += s * n2 * d
            for p in range(count):
                if trial[p] != 0.0:
                    i = contact[p, 2]
                    for side in range(2):
                        if column[p, side] >= 0:
                            k = contact[p, side]
                            sign = -1.0 if side == 0 else 1.0
                            c0 -= trial[p] * (sign * step[k, i, 0] - arm[k, i, side] * step[k, i, 1])
                            if faces:
                                c1 += trial[p] * 0.5 * thickness[k] * step[k, i, 1] ** 2
            largest = size = 0.0
            for k in range(n):
                for i in range(clamp[k] + 1, rim[k] + 1):
                    largest = max(largest, abs(step[k, i, 0]))
                    size = max(size, abs(w[k, i, 0]), abs(w[k, i, 0] + step[k, i, 0]))
            if size > 0.0:
                largest /= size
            length = 1.0
            # a step below the tolerance is taken whole: its slope is rounding
            if not linear and largest > limits[0] and c0 + c1 + c2 + c3 > 0.1 * abs(c0):
                low, high = 0.0, 1.0
                for _ in range(40):
                    length = 0.5 * (low + high)
                    if c0 + length * (c1 + length * (c2 + length * c3)) > 0.0:
                        high = length
                    else:
                        low = length
            for k in range(n):
                for i in range(clamp[k] + 1, rim[k] + 1):
                    for d in range(2):
                        w[k, i, d] += length * step[k, i, d]
                    u[k, i] += length * (2.0 * u1[k, i] + length * u2[k, i])
                for e in range(clamp[k], rim[k]):
                    inner[k, e] += length * (2.0 * inner1[k, e] + length * inner2[k, e])
            for p in range(count):
                force[p] = trial[p]
            if length == 1.0 and (linear or largest < limits[0]):
                outcome = SOLVED
                break
        for k in range(n):
            for i in range(nodes):
                lever[k, i] = 0.5 * thickness[k] * w[k, i, 1] if faces else 0.0
                arm[k, i, 0] = lever[k, i]
                arm[k, i, 1] = lever[k, i]
                step[k, i, 0] = 0.0
                step[k, i, 1] = 0.0
        for p in range(count):
            if column[p, 0] >= 0:
                arm[contact[p, 0], contact[p, 2], 0] -= inward[p]
            if column[p, 1] >= 0:
                arm[contact[p, 1], contact[p, 2], 1] += inward[p]
        gaps_after(contact, column, count, room, lever, arm, w, step, after)
        for p in range(count):
            force_out[at, p] = force[p]
            # what the faces yield at an edge is no overlap
            gap_out[at, p] = after[p] + soft[p] * max(force[p], 0.0)
        for k in range(n):
            for i in range(nodes):
                w_out[at, k, i, 0] = w[k, i, 0]
                w_out[at, k, i, 1] = w[k, i, 1]
                u_out[at, k, i] = u[k, i]
            for i in range(nodes - 1):
                inner_out[at, k, i] = inner[k, i]
        report[at, 0], report[at, 1], report[at, 2] = outcome, iterations, pivots
        figures[at, 0], figures[at, 1] = largest, length
        if outcome != SOLVED:
            break
    return count
