"""Compiled heart of the linkage solver: poses, energy with exact derivatives, KKT factor, march over a grid.

Arrays and shapes (0-based; ``nb`` bodies, ``n`` coordinates, ``ne`` elements, ``m`` hard rows, ``nu`` inputs)
---------------------------------------------------------------------------------------------------------------
``bi (nb, 5)``      kind (0 Euler, 1 increment, 2 hinge, 3 slide), parent (-1 chassis), first coordinate, number of
                    columns, place of (body, body) in `pairs`
``bf (nb, 9)``      hinge/slide: axis, anchor, lever, all in the parent's frame (anchor from the parent's reference)
``cols (nb, mc)``   coordinates that move the body: its own, then those of its parents
``ei (ne, 14)``     type (0 rod, 1 joint), body A, body B (-1 chassis), first hard row, six modes (0 absent, 1 soft,
                    2 hard), places in `pairs` of AA, BB and AB (-1 none), 1 if A stands behind B in the body list
``ef (ne, 25)``     s_A, s_B, a1, a2, a3, b1, b2, b3 in their bodies' frames, rod length
``ek (ne, 18)``     rate, progressive rate, gap of the six rows
``pairs (np, 2)``   bodies that an element couples, higher index first
``pos (nb, 3)``, ``rot (nb, 9)`` poses; ``tw (nb, mc, 6)`` twist (v at the reference point, w) of each column

A body's twist moves it by ``p + v`` and ``exp(w) R``. Elements work on twists; `assemble` converts once. Parents
stand before their children. Hard rows enter with their multiplier as force and no rate.
"""

from __future__ import annotations

import math

from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.compiled import kernel


@kernel
def place(bi: Ints, bf: Floats, q: Floats, pos: Floats, rot: Floats, tw: Floats) -> None:
    """Fill poses and twist columns from the coordinates; an increment body keeps the `rot` it has."""
    for b in range(bi.shape[0]):
        kind = bi[b, 0]
        up = bi[b, 1]
        f = bi[b, 2]
        if kind < 2:
            for k in range(6):
                for i in range(6):
                    tw[b, k, i] = 0.0
                tw[b, k, k] = 1.0
            for i in range(3):
                pos[b, i] = q[f + i]
            if kind == 0:
                cz = math.cos(q[f + 3])
                sz = math.sin(q[f + 3])
                cy = math.cos(q[f + 4])
                sy = math.sin(q[f + 4])
                cx = math.cos(q[f + 5])
                sx = math.sin(q[f + 5])
                rot[b, 0] = cz * cy
                rot[b, 1] = cz * sy * sx - sz * cx
                rot[b, 2] = cz * sy * cx + sz * sx
                rot[b, 3] = sz * cy
                rot[b, 4] = sz * sy * sx + cz * cx
                rot[b, 5] = sz * sy * cx - cz * sx
                rot[b, 6] = -sy
                rot[b, 7] = cy * sx
                rot[b, 8] = cy * cx
                tw[b, 3, 3] = 0.0
                tw[b, 3, 5] = 1.0
                tw[b, 4, 3] = -sz
                tw[b, 4, 4] = cz
                tw[b, 5, 3] = cz * cy
                tw[b, 5, 4] = sz * cy
                tw[b, 5, 5] = -sy
            continue
        # hinge or slide: axis n, anchor a, lever r of the reference point, in chassis axes
        angle = q[f] if kind == 2 else 0.0
        ca = math.cos(angle)
        sa = math.sin(angle)
        ux = bf[b, 0]
        uy = bf[b, 1]
        uz = bf[b, 2]
        # turn about the axis in the parent's frame, row by row
        for i in range(3):
            ui = ux if i == 0 else (uy if i == 1 else uz)
            rot[b, 3 * i] = (1.0 - ca) * ui * ux + (ca if i == 0 else (uz * sa if i == 1 else -uy * sa))
            rot[b, 3 * i + 1] = (1.0 - ca) * ui * uy + (-uz * sa if i == 0 else (ca if i == 1 else ux * sa))
            rot[b, 3 * i + 2] = (1.0 - ca) * ui * uz + (uy * sa if i == 0 else (-ux * sa if i == 1 else ca))
        for i in range(3):
            # lever in the parent's frame, kept in the reference position for now
            pos[b, i] = rot[b, 3 * i] * bf[b, 6] + rot[b, 3 * i + 1] * bf[b, 7] + rot[b, 3 * i + 2] * bf[b, 8]
        nx = ux
        ny = uy
        nz = uz
        rx = pos[b, 0]
        ry = pos[b, 1]
        rz = pos[b, 2]
        ax = bf[b, 3]
        ay = bf[b, 4]
        az = bf[b, 5]
        if kind == 3:
            ax += ux * q[f]
            ay += uy * q[f]
            az += uz * q[f]
        if up >= 0:
            nx = rot[up, 0] * ux + rot[up, 1] * uy + rot[up, 2] * uz
            ny = rot[up, 3] * ux + rot[up, 4] * uy + rot[up, 5] * uz
            nz = rot[up, 6] * ux + rot[up, 7] * uy + rot[up, 8] * uz
            tx = rx
            ty = ry
            tz = rz
            rx = rot[up, 0] * tx + rot[up, 1] * ty + rot[up, 2] * tz
            ry = rot[up, 3] * tx + rot[up, 4] * ty + rot[up, 5] * tz
            rz = rot[up, 6] * tx + rot[up, 7] * ty + rot[up, 8] * tz
            tx = ax
            ty = ay
            tz = az
            ax = pos[up, 0] + rot[up, 0] * tx + rot[up, 1] * ty + rot[up, 2] * tz
            ay = pos[up, 1] + rot[up, 3] * tx + rot[up, 4] * ty + rot[up, 5] * tz
            az = pos[up, 2] + rot[up, 6] * tx + rot[up, 7] * ty + rot[up, 8] * tz
            for j in range(3):
                tx = rot[b, j]
                ty = rot[b, 3 + j]
                tz = rot[b, 6 + j]
                for i in range(3):
                    rot[b, 3 * i + j] = rot[up, 3 * i] * tx + rot[up, 3 * i + 1] * ty + rot[up, 3 * i + 2] * tz
        pos[b, 0] = ax + rx
        pos[b, 1] = ay + ry
        pos[b, 2] = az + rz
        if kind == 2:
            tw[b, 0, 0] = ny * rz - nz * ry
            tw[b, 0, 1] = nz * rx - nx * rz
            tw[b, 0, 2] = nx * ry - ny * rx
            tw[b, 0, 3] = nx
            tw[b, 0, 4] = ny
            tw[b, 0, 5] = nz
        else:
            tw[b, 0, 0] = nx
            tw[b, 0, 1] = ny
            tw[b, 0, 2] = nz
            tw[b, 0, 3] = 0.0
            tw[b, 0, 4] = 0.0
            tw[b, 0, 5] = 0.0
        if up >= 0:
            dx = pos[b, 0] - pos[up, 0]
            dy = pos[b, 1] - pos[up, 1]
            dz = pos[b, 2] - pos[up, 2]
            for k in range(bi[up, 3]):
                wx = tw[up, k, 3]
                wy = tw[up, k, 4]
                wz = tw[up, k, 5]
                tw[b, k + 1, 0] = tw[up, k, 0] + wy * dz - wz * dy
                tw[b, k + 1, 1] = tw[up, k, 1] + wz * dx - wx * dz
                tw[b, k + 1, 2] = tw[up, k, 2] + wx * dy - wy * dx
                tw[b, k + 1, 3] = wx
                tw[b, k + 1, 4] = wy
                tw[b, k + 1, 5] = wz


@kernel
def assemble(
    order: int,
    bi: Ints,
    cols: Ints,
    pairs: Ints,
    ei: Ints,
    ef: Floats,
    ek: Floats,
    pos: Floats,
    rot: Floats,
    tw: Floats,
    lam: Floats,
    gt: Floats,
    ht: Floats,
    buf: Floats,
    grad: Floats,
    hess: Floats,
    res: Floats,
    jac: Floats,
) -> float:
    """Gradient of the Lagrangian, hard rows and Jacobian, at order 1 the exact Hessian too; returns the energy.

    ``gt (nb, 6)``, ``ht (np, 6, 6)`` and ``buf (40, 3)`` are work space. Soft law of a row: force
    ``k r + h max(|r| - gap, 0)^2 sign(r)``.
    """
    nb = bi.shape[0]
    n = grad.shape[0]
    m = res.shape[0]
    energy = 0.0
    for b in range(nb):
        for i in range(6):
            gt[b, i] = 0.0
    for i in range(n):
        grad[i] = 0.0
        for r in range(m):
            jac[r, i] = 0.0
    if order > 0:
        for p in range(pairs.shape[0]):
            for i in range(6):
                for j in range(6):
                    ht[p, i, j] = 0.0
        for i in range(n):
            for j in range(n):
                hess[i, j] = 0.0
    # rows of buf: 0, 1 s_A and s_B of the data; 2..4 a; 5..7 b; 8 D; 9 F; 10 moment; 11 direction of the row;
    # 12 moment of the row; 13, 14 mS, mC of the twist; 15..17 C; 18..20 W; 21..23 M; 24.. S_A; 27.. S_B; 30.. C S_A;
    # 33.. C S_B; 36 lever on A; 37.. [F]x
    for e in range(ei.shape[0]):
        rod = ei[e, 0] == 0
        ia = ei[e, 1]
        ib = ei[e, 2]
        row = ei[e, 3]
        for v in range(2 if rod else 8):
            b = ia if v == 0 or 1 < v < 5 else ib
            for i in range(3):
                s = ef[e, 3 * v + i]
                if b >= 0:
                    s = 0.0
                    for j in range(3):
                        s += rot[b, 3 * i + j] * ef[e, 3 * v + j]
                buf[v, i] = s
        for i in range(3):
            pa = pos[ia, i] if ia >= 0 else 0.0
            pb = pos[ib, i] if ib >= 0 else 0.0
            buf[8, i] = pb + buf[1, i] - pa - buf[0, i]
            buf[36, i] = buf[0, i] if rod else pb + buf[1, i] - pa
            for v in range(9, 24):
                buf[v, i] = 0.0
        for w in range(1 if rod else 6):
            mode = ei[e, 4 + w]
            if mode == 0:
                continue
            value = 0.0
            length = 1.0
            cosine = 0.0
            sine = 0.0
            rho = 1.0
            for i in range(3):
                buf[11, i] = 0.0
                buf[12, i] = 0.0
            if w < 3:
                if rod:
                    length = math.sqrt(buf[8, 0] ** 2 + buf[8, 1] ** 2 + buf[8, 2] ** 2)
                    value = length - ef[e, 24]
                for i in range(3):
                    buf[11, i] = buf[8, i] / length if rod else buf[2 + w, i]
                    if not rod:
                        value += buf[11, i] * buf[8, i]
            else:
                for i in range(3):
                    j = (i + 1) % 3
                    k = (i + 2) % 3
                    if w < 5:
                        value += buf[w - 1, i] * buf[7, i]
                        buf[12, i] = buf[7, j] * buf[w - 1, k] - buf[7, k] * buf[w - 1, j]
                    else:
                        sine += buf[5, i] * buf[3, i] - buf[6, i] * buf[2, i]
                        cosine += buf[5, i] * buf[2, i] + buf[6, i] * buf[3, i]
                        buf[13, i] = (buf[5, j] * buf[3, k] - buf[5, k] * buf[3, j]) - (
                            buf[6, j] * buf[2, k] - buf[6, k] * buf[2, j]
                        )
                        buf[14, i] = (buf[5, j] * buf[2, k] - buf[5, k] * buf[2, j]) + (
                            buf[6, j] * buf[3, k] - buf[6, k] * buf[3, j]
                        )
                if w == 5:
                    value = math.atan2(sine, cosine)
                    rho = sine * sine + cosine * cosine
                    for i in range(3):
                        buf[12, i] = (cosine * buf[13, i] - sine * buf[14, i]) / rho
            force = 0.0
            rate = 0.0
            if mode == 2:
                force = lam[row]
                res[row] = value
                for side in range(2):
                    b = ib if side == 0 else ia
                    if b < 0:
                        continue
                    arm = 1 if side == 0 else 36
                    sign = 1.0 if side == 0 else -1.0
                    for k in range(bi[b, 3]):
                        s = 0.0
                        for i in range(3):
                            u = (i + 1) % 3
                            v = (i + 2) % 3
                            turn = buf[12, i] + buf[arm, u] * buf[11, v] - buf[arm, v] * buf[11, u]
                            s += tw[b, k, i] * buf[11, i] + tw[b, k, 3 + i] * turn
                        jac[row, cols[b, k]] += sign * s
                row += 1
            else:
                rate = ek[e, 3 * w]
                force = rate * value
                energy += 0.5 * rate * value * value
                over = abs(value) - ek[e, 3 * w + 2]
                if over > 0.0:
                    more = ek[e, 3 * w + 1] * over
                    force += more * over if value > 0.0 else -more * over
                    energy += more * over * over / 3.0
                    rate += 2.0 * more
            for i in range(3):
                buf[9, i] += force * buf[11, i]
                buf[10, i] += force * buf[12, i]
            if order == 0:
                continue
            stretch = force / length if rod else 0.0
            ss = -2.0 * sine * cosine / (rho * rho) * force
            sc = (sine * sine - cosine * cosine) / (rho * rho) * force
            for i in range(3):
                for j in range(3):
                    if w < 3:
                        buf[15 + i, j] += (rate - stretch) * buf[11, i] * buf[11, j]
                        if i == j:
                            buf[15 + i, j] += stretch
                        continue
                    buf[18 + i, j] += rate * buf[12, i] * buf[12, j]
                    if w < 5:
                        buf[21 + i, j] += force * buf[7, i] * buf[w - 1, j]
                    else:
                        buf[18 + i, j] += ss * (buf[13, i] * buf[13, j] - buf[14, i] * buf[14, j]) + sc * (
                            buf[13, i] * buf[14, j] + buf[14, i] * buf[13, j]
                        )
                        buf[21 + i, j] += (
                            force
                            / rho
                            * (
                                cosine * (buf[5, i] * buf[3, j] - buf[6, i] * buf[2, j])
                                - sine * (buf[5, i] * buf[2, j] + buf[6, i] * buf[3, j])
                            )
                        )
        for side in range(2):
            b = ib if side == 0 else ia
            if b < 0:
                continue
            arm = 1 if side == 0 else 36
            sign = 1.0 if side == 0 else -1.0
            for i in range(3):
                u = (i + 1) % 3
                v = (i + 2) % 3
                gt[b, i] += sign * buf[9, i]
                gt[b, 3 + i] += sign * (buf[10, i] + buf[arm, u] * buf[9, v] - buf[arm, v] * buf[9, u])
        if order == 0:
            continue
        # second derivatives of the element over the twists of its bodies
        for i in range(3):
            u = (i + 1) % 3
            v = (i + 2) % 3
            for r in range(3):
                source = 36 if r == 0 else (1 if r == 1 else 9)
                place_at = 24 if r == 0 else (27 if r == 1 else 37)
                buf[place_at + i, i] = 0.0
                buf[place_at + u, v] = -buf[source, i]
                buf[place_at + v, u] = buf[source, i]
        for i in range(3):
            for j in range(3):
                sa = 0.0
                sb = 0.0
                for k in range(3):
                    sa += buf[15 + i, k] * buf[24 + k, j]
                    sb += buf[15 + i, k] * buf[27 + k, j]
                buf[30 + i, j] = sa
                buf[33 + i, j] = sb
        fa = 0.0
        fb = 0.0
        trace = buf[21, 0] + buf[22, 1] + buf[23, 2]
        for i in range(3):
            fa += buf[9, i] * buf[36, i]
            fb += buf[9, i] * buf[1, i]
        turned = 0.0 if rod else 1.0
        signa = -1.0 if rod else 1.0
        paa = ei[e, 10]
        pbb = ei[e, 11]
        pab = ei[e, 12]
        for i in range(3):
            for j in range(3):
                own = 0.5 * (buf[21 + i, j] + buf[21 + j, i]) + buf[18 + i, j]
                cross = -buf[18 + i, j] - buf[21 + j, i]
                waa = signa * 0.5 * (buf[9, i] * buf[36, j] + buf[9, j] * buf[36, i])
                wbb = 0.5 * (buf[9, i] * buf[1, j] + buf[9, j] * buf[1, i])
                wba = -turned * buf[9, i] * buf[1, j]
                if i == j:
                    own -= trace
                    cross += trace
                    waa -= signa * fa
                    wbb -= fb
                    wba += turned * fb
                for k in range(3):
                    waa += buf[24 + k, i] * buf[30 + k, j]
                    wbb += buf[27 + k, i] * buf[33 + k, j]
                    wba -= buf[27 + k, i] * buf[30 + k, j]
                if paa >= 0:
                    vw = -buf[30 + i, j] + turned * buf[37 + i, j]
                    ht[paa, i, j] += buf[15 + i, j]
                    ht[paa, i, 3 + j] += vw
                    ht[paa, 3 + j, i] += vw
                    ht[paa, 3 + i, 3 + j] += waa + own
                if pbb >= 0:
                    ht[pbb, i, j] += buf[15 + i, j]
                    ht[pbb, i, 3 + j] -= buf[33 + i, j]
                    ht[pbb, 3 + j, i] -= buf[33 + i, j]
                    ht[pbb, 3 + i, 3 + j] += wbb + own
                if pab >= 0:
                    vw = buf[30 + i, j] - turned * buf[37 + i, j]
                    if ei[e, 13] == 0:
                        ht[pab, i, j] -= buf[15 + i, j]
                        ht[pab, i, 3 + j] += vw
                        ht[pab, 3 + i, j] += buf[33 + j, i]
                        ht[pab, 3 + i, 3 + j] += wba + cross
                    else:
                        ht[pab, j, i] -= buf[15 + i, j]
                        ht[pab, 3 + j, i] += vw
                        ht[pab, j, 3 + i] += buf[33 + j, i]
                        ht[pab, 3 + j, 3 + i] += wba + cross
    # from children to parents: total wrench, gradient, and the second derivatives of the poses themselves
    for back in range(nb):
        b = nb - 1 - back
        kind = bi[b, 0]
        up = bi[b, 1]
        f = bi[b, 2]
        for k in range(6 if kind < 2 else 1):
            s = 0.0
            for i in range(6):
                s += tw[b, k, i] * gt[b, i]
            grad[f + k] += s
        if kind == 0 and order > 0:
            for k in range(3, 5):
                for l in range(k + 1, 6):
                    s = 0.0
                    for i in range(3):
                        u = 3 + (i + 1) % 3
                        v = 3 + (i + 2) % 3
                        s += gt[b, 3 + i] * (tw[b, k, u] * tw[b, l, v] - tw[b, k, v] * tw[b, l, u])
                    hess[f + k, f + l] += 0.5 * s
                    hess[f + l, f + k] += 0.5 * s
        if kind == 2 and order > 0:
            s = 0.0
            for i in range(3):
                u = (i + 1) % 3
                v = (i + 2) % 3
                s += gt[b, i] * (tw[b, 0, 3 + u] * tw[b, 0, v] - tw[b, 0, 3 + v] * tw[b, 0, u])
            hess[f, f] += s
        if up < 0:
            continue
        fd = 0.0
        for i in range(3):
            buf[0, i] = pos[b, i] - pos[up, i]
            fd += gt[b, i] * buf[0, i]
        if order > 0:
            puu = bi[up, 4]
            for i in range(3):
                u = (i + 1) % 3
                v = (i + 2) % 3
                for j in range(3):
                    ht[puu, 3 + i, 3 + j] += 0.5 * (gt[b, i] * buf[0, j] + gt[b, j] * buf[0, i])
                ht[puu, 3 + i, 3 + i] -= fd
                # (n x r) x f + n x m / 2, where the own column holds n x r (a slide: n) and n
                buf[1, i] = tw[b, 0, u] * gt[b, v] - tw[b, 0, v] * gt[b, u]
                buf[1, i] += 0.5 * (tw[b, 0, 3 + u] * gt[b, 3 + v] - tw[b, 0, 3 + v] * gt[b, 3 + u])
            for k in range(bi[up, 3]):
                s = 0.0
                for i in range(3):
                    s += tw[up, k, 3 + i] * buf[1, i]
                hess[f, cols[up, k]] += s
                hess[cols[up, k], f] += s
        for i in range(3):
            u = (i + 1) % 3
            v = (i + 2) % 3
            gt[up, i] += gt[b, i]
            gt[up, 3 + i] += gt[b, 3 + i] + buf[0, u] * gt[b, v] - buf[0, v] * gt[b, u]
    if order > 0:
        for p in range(pairs.shape[0]):
            a = pairs[p, 0]
            b = pairs[p, 1]
            for l in range(bi[b, 3]):
                for i in range(6):
                    s = 0.0
                    for j in range(6):
                        s += ht[p, i, j] * tw[b, l, j]
                    buf[i // 3, i % 3] = s
                for k in range(bi[a, 3]):
                    s = 0.0
                    for i in range(6):
                        s += tw[a, k, i] * buf[i // 3, i % 3]
                    hess[cols[a, k], cols[b, l]] += s
                    if a != b:
                        hess[cols[b, l], cols[a, k]] += s
    return energy


@kernel
def factor(size: int, kkt: Floats, pivots: Floats, column: Floats) -> int:
    """LDL^T of the lower triangle in place, no pivoting; number of negative pivots, or -1 at a vanishing one."""
    negative = 0
    for k in range(size):
        pivot = kkt[k, k]
        if not abs(pivot) > 1e-13 * pivots[k]:
            return -1
        pivots[k] = pivot
        if pivot < 0.0:
            negative += 1
        for i in range(k + 1, size):
            column[i] = kkt[i, k]
        for i in range(k + 1, size):
            part = column[i] / pivot
            kkt[i, k] = part
            for j in range(k + 1, i + 1):
                kkt[i, j] -= part * column[j]
    return negative


@kernel
def solve(size: int, kkt: Floats, pivots: Floats, x: Floats) -> None:
    """Solve in place with the factor made by `factor`."""
    for i in range(size):
        s = x[i]
        for j in range(i):
            s -= kkt[i, j] * x[j]
        x[i] = s
    for i in range(size):
        x[i] /= pivots[i]
    for back in range(size):
        i = size - 1 - back
        value = x[i]
        for j in range(i):
            x[j] -= kkt[i, j] * value


@kernel
def absorb(bi: Ints, q: Floats, rot: Floats) -> None:
    """Turn increment bodies by their rotation vector and set it back to zero."""
    for b in range(bi.shape[0]):
        if bi[b, 0] != 1:
            continue
        f = bi[b, 2] + 3
        x = q[f]
        y = q[f + 1]
        z = q[f + 2]
        angle2 = x * x + y * y + z * z
        if angle2 == 0.0:
            continue
        angle = math.sqrt(angle2)
        half = math.sin(0.5 * angle) / angle
        s = math.sin(angle) / angle
        c = 2.0 * half * half
        for j in range(3):
            vx = rot[b, j]
            vy = rot[b, 3 + j]
            vz = rot[b, 6 + j]
            cx = y * vz - z * vy
            cy = z * vx - x * vz
            cz = x * vy - y * vx
            rot[b, j] = vx + s * cx + c * (y * cz - z * cy)
            rot[b, 3 + j] = vy + s * cy + c * (z * cx - x * cz)
            rot[b, 6 + j] = vz + s * cz + c * (x * cy - y * cx)
        q[f] = 0.0
        q[f + 1] = 0.0
        q[f + 2] = 0.0


@kernel
def far_back(bi: Ints, here: int, back: int, out_q: Floats, out_lam: Floats, out_rot: Floats, out: Floats) -> None:
    """How far coordinates and multipliers moved between two solved nodes `(n + m,)`; turns as rotation vectors."""
    n = out_q.shape[1]
    for i in range(n):
        out[i] = out_q[here, i] - out_q[back, i]
    for r in range(out_lam.shape[1]):
        out[n + r] = out_lam[here, r] - out_lam[back, r]
    for b in range(bi.shape[0]):
        if bi[b, 0] != 1:
            continue
        f = bi[b, 2] + 3
        x = 0.0
        y = 0.0
        z = 0.0
        # half the antisymmetric part of the turn is its axis times its sine
        for j in range(3):
            x += out_rot[here, b, 6 + j] * out_rot[back, b, 3 + j] - out_rot[here, b, 3 + j] * out_rot[back, b, 6 + j]
            y += out_rot[here, b, j] * out_rot[back, b, 6 + j] - out_rot[here, b, 6 + j] * out_rot[back, b, j]
            z += out_rot[here, b, 3 + j] * out_rot[back, b, j] - out_rot[here, b, j] * out_rot[back, b, 3 + j]
        sine = 0.5 * math.sqrt(x * x + y * y + z * z)
        grow = 0.5 if sine < 1e-8 else 0.5 * math.asin(min(sine, 1.0)) / sine
        out[f] = grow * x
        out[f + 1] = grow * y
        out[f + 2] = grow * z


@kernel
def march(
    bi: Ints,
    bf: Floats,
    cols: Ints,
    pairs: Ints,
    ei: Ints,
    ef: Floats,
    ek: Floats,
    free: Ints,
    held: Ints,
    scale: Floats,
    inputs: Floats,
    parent: Ints,
    grand: Ints,
    settings: Floats,
    start_q: Floats,
    start_rot: Floats,
    out_q: Floats,
    out_lam: Floats,
    out_slope: Floats,
    out_pos: Floats,
    out_rot: Floats,
    out_twist: Floats,
    out_stiff: Floats,
    out_force: Floats,
    out_info: Floats,
    status: Ints,
    pos: Floats,
    rot: Floats,
    tw: Floats,
    gt: Floats,
    ht: Floats,
    buf: Floats,
    grad: Floats,
    hess: Floats,
    res: Floats,
    jac: Floats,
    q: Floats,
    lam: Floats,
    kkt: Floats,
    pivots: Floats,
    column: Floats,
    x: Floats,
    slope: Floats,
    before: Floats,
    loaded: Ints,
    place_of: Ints,
    out_give: Floats,
    x_past: Floats,
) -> None:
    """Solve equilibrium at every row of `inputs (np, nu)`, each started from its `parent` (-1: from the start pose).

    ``settings``: step that ends the Newton loop [m], largest step [m], iterations, most pieces of an input step.
    ``x_past (n + m,)`` is for the prediction.
    ``slope`` and ``before`` ``(n + m, nu)`` hold coordinates and multipliers by input, now and one step back.
    ``out_info (np, 5)``: energy, largest hard-row residual, distance to equilibrium [m], iterations, pieces.
    ``loaded (nl,)`` bodies whose motion by unit loads is wanted, ``out_give (np, 6 nl, 6 nl)``: motion of each one's
    reference point and rotation by force there and moment; ``place_of (n,)``: place of a coordinate in `free` or -1.
    ``status``: 0 solved, 1 no convergence, 2 unstable (wrong inertia), 3 singular, 4 parent not solved.
    """
    nb = bi.shape[0]
    n = q.shape[0]
    m = lam.shape[0]
    nf = free.shape[0]
    nu = held.shape[0]
    size = nf + m
    for p in range(inputs.shape[0]):
        from_node = parent[p]
        if from_node >= 0 and status[from_node] != 0:
            status[p] = 4
            continue
        back_node = grand[p]
        pieces = 1
        code = 1
        while True:
            ratio = 0.0
            total = 0.0
            other = 0.0
            for i in range(n):
                q[i] = start_q[i] if from_node < 0 else out_q[from_node, i]
            for b in range(nb):
                for i in range(9):
                    rot[b, i] = start_rot[b, i] if from_node < 0 else out_rot[from_node, b, i]
            for r in range(m):
                lam[r] = 0.0 if from_node < 0 else out_lam[from_node, r]
            for i in range(n + m):
                for u in range(nu):
                    slope[i, u] = 0.0 if from_node < 0 else out_slope[from_node, i, u]
                    before[i, u] = 0.0 if back_node < 0 else out_slope[back_node, i, u]
            for u in range(nu):
                if from_node >= 0:
                    total += abs(inputs[p, u] - inputs[from_node, u])
                if back_node >= 0:
                    other += abs(inputs[from_node, u] - inputs[back_node, u])
            if other > 0.0:
                ratio = total / other / pieces
            count = 0.0
            rho = 0.0
            step = 0.0
            energy = 0.0
            negative = 0
            for piece in range(pieces):
                # prediction to third order through two nodes and their slopes, to second where only slopes are at hand
                # or where the step has pieces; held coordinates exactly
                cubic = back_node >= 0 and pieces == 1 and other > 0.0
                if cubic:
                    far_back(bi, from_node, back_node, out_q, out_lam, out_rot, x_past)
                for i in range(n + m):
                    s = 0.0
                    if cubic:
                        now = 0.0
                        then = 0.0
                        for u in range(nu):
                            now += (inputs[p, u] - inputs[from_node, u]) * slope[i, u]
                            then += (inputs[from_node, u] - inputs[back_node, u]) * before[i, u]
                        # per step from the back node to this: slopes a and b, chord d
                        a = then
                        b1 = now / ratio
                        d = x_past[i]
                        c3 = a + b1 - 2.0 * d
                        c2 = a + 2.0 * b1 - 3.0 * d
                        s = ratio * (b1 + ratio * (c2 + ratio * c3))
                        if i < n:
                            q[i] += s
                        else:
                            lam[i - n] += s
                        continue
                    for u in range(nu):
                        du = 0.0 if from_node < 0 else (inputs[p, u] - inputs[from_node, u]) / pieces
                        s += du * (slope[i, u] + 0.5 * ratio * (slope[i, u] - before[i, u]))
                    if i < n:
                        q[i] += s
                    else:
                        lam[i - n] += s
                share = (piece + 1.0) / pieces
                for u in range(nu):
                    base = inputs[p, u] if from_node < 0 else inputs[from_node, u]
                    q[held[u]] = base + share * (inputs[p, u] - base)
                code = 1
                done = False
                for _turn in range(int(settings[2]) + 1):
                    absorb(bi, q, rot)
                    place(bi, bf, q, pos, rot, tw)
                    order = 0 if done else 1
                    energy = assemble(
                        order, bi, cols, pairs, ei, ef, ek, pos, rot, tw, lam, gt, ht, buf, grad, hess, res, jac
                    )
                    if not done:
                        count += 1.0
                        rho = 1e6
                        for i in range(nf):
                            rho = max(rho, abs(hess[free[i], free[i]]) * scale[free[i]] ** 2)
                        for i in range(nf):
                            fi = free[i]
                            for j in range(i + 1):
                                s = hess[fi, free[j]]
                                for r in range(m):
                                    s += rho * jac[r, fi] * jac[r, free[j]]
                                kkt[i, j] = s
                            pivots[i] = abs(kkt[i, i])
                        for r in range(m):
                            for j in range(nf):
                                kkt[nf + r, j] = jac[r, free[j]]
                            for j in range(r + 1):
                                kkt[nf + r, nf + j] = 0.0
                            pivots[nf + r] = 1e3 / rho
                        negative = factor(size, kkt, pivots, column)
                        if negative < 0:
                            code = 3
                            break
                    for i in range(nf):
                        s = -grad[free[i]]
                        for r in range(m):
                            s -= rho * jac[r, free[i]] * res[r]
                        x[i] = s
                    for r in range(m):
                        x[nf + r] = -res[r]
                    solve(size, kkt, pivots, x)
                    step = 0.0
                    for i in range(nf):
                        step = max(step, abs(x[i]) * scale[free[i]])
                    if done:
                        code = 0 if negative == m else 2
                        break
                    if not step < 1e6:
                        code = 1
                        break
                    cap = 1.0 if step <= settings[1] else settings[1] / step
                    for i in range(nf):
                        q[free[i]] += cap * x[i]
                    for r in range(m):
                        lam[r] += cap * x[nf + r]
                    # a root starts without multipliers: its first matrix lacks their part and must not serve for slopes
                    done = step < settings[0] and (from_node >= 0 or count > 1.0)
                if code != 0:
                    break
                # exact tangent from the factor at hand, then at the node the motion by unit loads
                for u in range(nu + (6 * loaded.shape[0] if piece == pieces - 1 else 0)):
                    if u >= nu:
                        c = u - nu
                        b = loaded[c // 6]
                        for k in range(size):
                            column[k] = 0.0
                        for k in range(bi[b, 3]):
                            if place_of[cols[b, k]] >= 0:
                                column[place_of[cols[b, k]]] += tw[b, k, c % 6]
                    else:
                        h = held[u]
                        for i in range(nf):
                            s = -hess[free[i], h]
                            for r in range(m):
                                s -= rho * jac[r, free[i]] * jac[r, h]
                            column[i] = s
                        for r in range(m):
                            column[nf + r] = -jac[r, h]
                    solve(size, kkt, pivots, column)
                    if u >= nu:
                        for d in range(loaded.shape[0]):
                            b = loaded[d]
                            for j in range(6):
                                s = 0.0
                                for k in range(bi[b, 3]):
                                    if place_of[cols[b, k]] >= 0:
                                        s += tw[b, k, j] * column[place_of[cols[b, k]]]
                                out_give[p, 6 * d + j, u - nu] = s
                        continue
                    for i in range(n + m):
                        before[i, u] = slope[i, u]
                        slope[i, u] = 0.0
                    for i in range(nf):
                        slope[free[i], u] = column[i]
                    slope[held[u], u] = 1.0
                    for r in range(m):
                        slope[n + r, u] = column[nf + r]
                ratio = 1.0 if piece > 0 or total > 0.0 else 0.0
            if code == 0 or pieces >= settings[3] or from_node < 0:
                break
            pieces *= 2
        status[p] = code
        if code != 0:
            continue
        worst = 0.0
        for r in range(m):
            worst = max(worst, abs(res[r]))
            out_lam[p, r] = lam[r]
        out_info[p, 0] = energy
        out_info[p, 1] = worst
        out_info[p, 2] = step
        out_info[p, 3] = count
        out_info[p, 4] = pieces
        for i in range(n):
            out_q[p, i] = q[i]
        for i in range(n + m):
            for u in range(nu):
                out_slope[p, i, u] = slope[i, u]
        for b in range(nb):
            for i in range(3):
                out_pos[p, b, i] = pos[b, i]
            for i in range(9):
                out_rot[p, b, i] = rot[b, i]
            for u in range(nu):
                for i in range(6):
                    s = 0.0
                    for k in range(bi[b, 3]):
                        s += tw[b, k, i] * slope[cols[b, k], u]
                    out_twist[p, b, u, i] = s
        for u in range(nu):
            h = held[u]
            out_force[p, u] = grad[h]
            for v in range(nu):
                s = 0.0
                for i in range(n):
                    s += hess[h, i] * slope[i, v]
                for r in range(m):
                    s += jac[r, h] * slope[n + r, v]
                out_stiff[p, u, v] = s
