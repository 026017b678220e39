"""Compiled right-hand side and stepper of the full vehicle on two rigid axles.

States (0-based)
----------------
q (10,)   X, Y, psi, z, theta, phi of the sprung centre of mass P; heave, roll of the front axle, of the rear axle
u (9,)    p, q, r (body axes); v, w of P (yaw frame); heave and roll rate of the front axle, of the rear axle
local (8,) rod travel of the four dampers; side deflection of the four tyres
Wheels stand in the order front left, front right, rear left, rear right.

Parameters
----------
body (11,)       mass, Ixx, Iyy, Izz, x, y, z of P in vehicle axes, gravity, then the tensor's xy, xz, yz elements
axle (2, 12)     mass, Ix, Iy, Iz, spin inertia of both wheels over their radius, half track, height of the centre at
                 zero heave, bar roll rate, share of traction, loaded radius, left, right unused
wheel (4, 22)    see the W_ indices below
table (2, nh + 2, nr + 2, 13)  cubic B-spline coefficients of the axle maps
grid (2, 6)      first heave, heave step, number of cells, first roll, roll step, number of cells
inverse (2, 2, n)  damper velocity over force variable: value and slope at even nodes
stops (2, 2, n)    stop force over compression: value and slope at even nodes
inputs (n, 20)   at half steps: road height (4), rate (4), slope (4), speed, its rate, steer, side force, roll moment,
                 yaw moment, unused (2)
"""

from __future__ import annotations

import math

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.compiled import kernel

# indices of wheel parameters
W_K, W_L0, W_STOP, W_KM, W_CM, W_FC, W_GAS, W_LD = 0, 1, 2, 3, 4, 5, 6, 7
W_TK, W_TC, W_R0, W_D0, W_CA, W_NK, W_MU, W_S0, W_S1, W_TD, W_KC = 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18
W_Y0, W_DY, W_DS = 19, 20, 21
CHANNELS = 13
LOG = 52
MOVING = 4  # the first channels, which place and turn the axle, also need their curvature
TOE = 0.0005  # a spring takes up its load over this length when it seats [m]


@kernel
def sine(x: float) -> float:
    """Return sin x for the small angles of body and axles: 1e-12 up to 0.35 rad, 3e-8 up to 1 rad."""
    y = x * x
    return x * (1.0 + y * (-1.0 / 6.0 + y * (1.0 / 120.0 + y * (-1.0 / 5040.0 + y * (1.0 / 362880.0)))))


@kernel
def cosine(x: float) -> float:
    """Return cos x, as `sine`."""
    y = x * x
    return 1.0 + y * (-0.5 + y * (1.0 / 24.0 + y * (-1.0 / 720.0 + y * (1.0 / 40320.0 + y * (-1.0 / 3628800.0)))))


@kernel
def table_at(
    table: Floats, grid: Floats, a: int, channels: int, h: float, r: float, dh: float, dr: float, out: Floats
) -> float:
    """Fill out (4, channels): value, slopes over heave and roll; second derivative along (dh, dr) of the first four.

    Returns how far outside the grid the point lies, in cells (0 inside); the end cell's cubic goes on there.
    """
    sh = (h - grid[a, 0]) / grid[a, 1]
    sr = (r - grid[a, 3]) / grid[a, 4]
    nh = grid[a, 2]
    nr = grid[a, 5]
    outside = max(max(-sh, sh - nh), max(-sr, sr - nr))
    i = int(min(max(math.floor(sh), 0.0), nh - 1.0))
    j = int(min(max(math.floor(sr), 0.0), nr - 1.0))
    t = sh - i
    s = sr - j
    ih = 1.0 / grid[a, 1]
    ir = 1.0 / grid[a, 4]
    # weights of value, slope and curvature along roll
    s2 = s * s
    c00 = (1.0 - s) * (1.0 - s) * (1.0 - s) / 6.0
    c01 = (3.0 * s2 * s - 6.0 * s2 + 4.0) / 6.0
    c02 = (-3.0 * s2 * s + 3.0 * s2 + 3.0 * s + 1.0) / 6.0
    c03 = s2 * s / 6.0
    c10 = -0.5 * (1.0 - s) * (1.0 - s) * ir
    c11 = (1.5 * s2 - 2.0 * s) * ir
    c12 = (-1.5 * s2 + s + 0.5) * ir
    c13 = 0.5 * s2 * ir
    q2 = ir * ir * dr * dr
    for k in range(channels):
        out[0, k] = 0.0
        out[1, k] = 0.0
        out[2, k] = 0.0
    for k in range(MOVING):
        out[3, k] = 0.0
    t2 = t * t
    for ka in range(4):
        if ka == 0:
            b = (1.0 - t) * (1.0 - t) * (1.0 - t) / 6.0
            b1 = -0.5 * (1.0 - t) * (1.0 - t) * ih
            b2 = (1.0 - t) * ih * ih
        elif ka == 1:
            b = (3.0 * t2 * t - 6.0 * t2 + 4.0) / 6.0
            b1 = (1.5 * t2 - 2.0 * t) * ih
            b2 = (3.0 * t - 2.0) * ih * ih
        elif ka == 2:
            b = (-3.0 * t2 * t + 3.0 * t2 + 3.0 * t + 1.0) / 6.0
            b1 = (-1.5 * t2 + t + 0.5) * ih
            b2 = (1.0 - 3.0 * t) * ih * ih
        else:
            b = t2 * t / 6.0
            b1 = 0.5 * t2 * ih
            b2 = t * ih * ih
        ra = i + ka
        for k in range(channels):
            f0 = table[a, ra, j, k]
            f1 = table[a, ra, j + 1, k]
            f2 = table[a, ra, j + 2, k]
            f3 = table[a, ra, j + 3, k]
            g0 = c00 * f0 + c01 * f1 + c02 * f2 + c03 * f3
            g1 = c10 * f0 + c11 * f1 + c12 * f2 + c13 * f3
            out[0, k] += b * g0
            out[1, k] += b1 * g0
            out[2, k] += b * g1
        b2 *= dh * dh
        b1 *= 2.0 * dh * dr
        b *= q2
        for k in range(MOVING):
            f0 = table[a, ra, j, k]
            f1 = table[a, ra, j + 1, k]
            f2 = table[a, ra, j + 2, k]
            f3 = table[a, ra, j + 3, k]
            g0 = c00 * f0 + c01 * f1 + c02 * f2 + c03 * f3
            g1 = c10 * f0 + c11 * f1 + c12 * f2 + c13 * f3
            g2 = (1.0 - s) * f0 + (3.0 * s - 2.0) * f1 + (1.0 - 3.0 * s) * f2 + s * f3
            out[3, k] += b2 * g0 + b1 * g1 + b * g2
    return outside


@kernel
def hermite(values: Floats, a: int, x: float, step: float) -> float:
    """Return a C1 table (values[a, 0] with slopes values[a, 1]) at x >= 0; the last cell goes on straight."""
    n = values.shape[2]
    pos = x / step
    i = int(min(max(math.floor(pos), 0.0), n - 2.0))
    t = pos - i
    if t > 1.0:
        return values[a, 0, n - 1] + values[a, 1, n - 1] * (x - (n - 1) * step)
    if t < 0.0:
        return values[a, 0, 0] + values[a, 1, 0] * x
    f0 = values[a, 0, i]
    f1 = values[a, 0, i + 1]
    m0 = values[a, 1, i] * step
    m1 = values[a, 1, i + 1] * step
    d = f1 - f0
    return f0 + t * (m0 + t * (3.0 * d - 2.0 * m0 - m1 + t * (m0 + m1 - 2.0 * d)))


@kernel
def seated_spring(rate: float, x: float) -> float:
    """Return the force of a spring compressed by x: none when loose, a short soft start when it seats."""
    if x <= 0.0:
        return 0.0
    if x < TOE:
        return rate * x * x / (2.0 * TOE)
    return rate * (x - 0.5 * TOE)


@kernel
def solve6(m: Floats, b: Floats) -> None:
    """Solve the symmetric system m (6, 6), lower triangle, for both rows of b (2, 6) in place by LDL^T.

    Written out, since loops this short cost twice as much.
    """
    d0 = 1.0 / m[0, 0]
    e10 = m[1, 0]
    l10 = e10 * d0
    e20 = m[2, 0]
    l20 = e20 * d0
    e30 = m[3, 0]
    l30 = e30 * d0
    e40 = m[4, 0]
    l40 = e40 * d0
    e50 = m[5, 0]
    l50 = e50 * d0
    d1 = 1.0 / (m[1, 1] - l10 * e10)
    e21 = m[2, 1] - e20 * l10
    l21 = e21 * d1
    e31 = m[3, 1] - e30 * l10
    l31 = e31 * d1
    e41 = m[4, 1] - e40 * l10
    l41 = e41 * d1
    e51 = m[5, 1] - e50 * l10
    l51 = e51 * d1
    d2 = 1.0 / (m[2, 2] - l20 * e20 - l21 * e21)
    e32 = m[3, 2] - e30 * l20 - e31 * l21
    l32 = e32 * d2
    e42 = m[4, 2] - e40 * l20 - e41 * l21
    l42 = e42 * d2
    e52 = m[5, 2] - e50 * l20 - e51 * l21
    l52 = e52 * d2
    d3 = 1.0 / (m[3, 3] - l30 * e30 - l31 * e31 - l32 * e32)
    e43 = m[4, 3] - e40 * l30 - e41 * l31 - e42 * l32
    l43 = e43 * d3
    e53 = m[5, 3] - e50 * l30 - e51 * l31 - e52 * l32
    l53 = e53 * d3
    d4 = 1.0 / (m[4, 4] - l40 * e40 - l41 * e41 - l42 * e42 - l43 * e43)
    e54 = m[5, 4] - e50 * l40 - e51 * l41 - e52 * l42 - e53 * l43
    l54 = e54 * d4
    d5 = 1.0 / (m[5, 5] - l50 * e50 - l51 * e51 - l52 * e52 - l53 * e53 - l54 * e54)
    x0 = b[0, 0]
    x1 = b[0, 1] - l10 * x0
    x2 = b[0, 2] - l20 * x0 - l21 * x1
    x3 = b[0, 3] - l30 * x0 - l31 * x1 - l32 * x2
    x4 = b[0, 4] - l40 * x0 - l41 * x1 - l42 * x2 - l43 * x3
    x5 = b[0, 5] - l50 * x0 - l51 * x1 - l52 * x2 - l53 * x3 - l54 * x4
    x5 = x5 * d5
    x4 = x4 * d4 - l54 * x5
    x3 = x3 * d3 - l43 * x4 - l53 * x5
    x2 = x2 * d2 - l32 * x3 - l42 * x4 - l52 * x5
    x1 = x1 * d1 - l21 * x2 - l31 * x3 - l41 * x4 - l51 * x5
    x0 = x0 * d0 - l10 * x1 - l20 * x2 - l30 * x3 - l40 * x4 - l50 * x5
    b[0, 0] = x0
    b[0, 1] = x1
    b[0, 2] = x2
    b[0, 3] = x3
    b[0, 4] = x4
    b[0, 5] = x5
    y0 = b[1, 0]
    y1 = b[1, 1] - l10 * y0
    y2 = b[1, 2] - l20 * y0 - l21 * y1
    y3 = b[1, 3] - l30 * y0 - l31 * y1 - l32 * y2
    y4 = b[1, 4] - l40 * y0 - l41 * y1 - l42 * y2 - l43 * y3
    y5 = b[1, 5] - l50 * y0 - l51 * y1 - l52 * y2 - l53 * y3 - l54 * y4
    y5 = y5 * d5
    y4 = y4 * d4 - l54 * y5
    y3 = y3 * d3 - l43 * y4 - l53 * y5
    y2 = y2 * d2 - l32 * y3 - l42 * y4 - l52 * y5
    y1 = y1 * d1 - l21 * y2 - l31 * y3 - l41 * y4 - l51 * y5
    y0 = y0 * d0 - l10 * y1 - l20 * y2 - l30 * y3 - l40 * y4 - l50 * y5
    b[1, 0] = y0
    b[1, 1] = y1
    b[1, 2] = y2
    b[1, 3] = y3
    b[1, 4] = y4
    b[1, 5] = y5


@kernel
def rates(
    q: Floats,
    u: Floats,
    local: Floats,
    inp: Floats,
    lag: float,
    body: Floats,
    axle: Floats,
    wheel: Floats,
    table: Floats,
    grid: Floats,
    inverse: Floats,
    stops: Floats,
    channels: int,
    acc: Floats,
    local_rate: Floats,
    log: Floats,
    out: Floats,
    mat: Floats,
    vec: Floats,
    rows: Floats,
) -> None:
    """Fill accelerations acc (9,), local_rate (8,) and log (52,).

    `out` (4, 13), `mat` (6, 6), `vec` (2, 6) and `rows` (2, 21) are scratch; rows[a, 19:] leaves the dampers' forces on
    heave and roll, vec the body's accelerations and those of a unit of traction. `lag` is half the step for the
    implicit midpoint rule of the local states, 0 for the plain equations.

    The log holds wheel load (0-3), damper velocity (4-7) and force (8-11), stop force (12-15), spring length (16-19),
    side force (20-23), traction (24), acceleration of P with gravity in body axes (25-27), angular acceleration
    (28-30), power of road (31), traction (32), dampers (33), tyre damping (34), side forces (35), outside inputs (36),
    distance outside the tables in cells (37), closing speed of the stops (38-41), pitch and roll (42, 43), angular
    velocity in body axes (44-46), stop compression, negative while there is a gap (48-51).
    """
    theta = q[4]
    phi = q[5]
    st = sine(theta)
    ct = cosine(theta)
    sp = sine(phi)
    cp = cosine(phi)
    # R = Ry(theta) Rx(phi): body to yaw frame
    r00 = ct
    r01 = st * sp
    r02 = st * cp
    r11 = cp
    r12 = -sp
    r20 = -st
    r21 = ct * sp
    r22 = ct * cp
    wx = u[0]
    wy = u[1]
    wz = u[2]
    v = u[3]
    w = u[4]
    speed = inp[12]
    turn = (wy * sp + wz * cp) / ct  # yaw rate psi'
    mass = body[0]
    ix = body[1]
    iy = body[2]
    iz = body[3]
    fx = 0.0
    fy = 0.0
    fz = 0.0
    ixy = body[8]
    ixz = body[9]
    iyz = body[10]
    lx = ix * wx + ixy * wy + ixz * wz
    ly = ixy * wx + iy * wy + iyz * wz
    lz = ixz * wx + iyz * wy + iz * wz
    mx = -(wy * lz - wz * ly)
    my = -(wz * lx - wx * lz)
    mz = -(wx * ly - wy * lx)
    # outside side force and moments at P, given in the yaw frame
    fy += r11 * inp[15]
    fz += r12 * inp[15]
    mx += r00 * inp[16] + r20 * inp[17]
    my += r01 * inp[16] + r21 * inp[17]
    mz += r02 * inp[16] + r22 * inp[17]
    mtot = mass
    ixx = ix
    iyy = iy
    izz = iz
    sx = 0.0
    sy = 0.0
    sz = 0.0
    # traction column
    tfx = 0.0
    tfy = 0.0
    tfz = 0.0
    tmx = 0.0
    tmy = 0.0
    tmz = 0.0
    outside = 0.0
    p_road = 0.0
    p_damper = 0.0
    p_tyre = 0.0
    p_side = 0.0
    p_traction = 0.0
    for a in range(2):
        h = q[6 + 2 * a]
        rho = q[7 + 2 * a]
        dh = u[5 + 2 * a]
        dr = u[6 + 2 * a]
        far = table_at(table, grid, a, channels, h, rho, dh, dr, out)
        outside = max(outside, far)
        ma = axle[a, 0]
        jx = axle[a, 1]
        jy = axle[a, 2]
        jz = axle[a, 3]
        spin = axle[a, 4] * speed
        half = axle[a, 5]
        rk = axle[a, 9]
        cx = out[0, 0] - body[4]
        cy = out[0, 1] - body[5]
        cz = axle[a, 6] + h - body[6]
        tau = out[0, 2]
        delta = out[0, 3]
        # slopes of the centre and of the small rotations
        ahx = out[1, 0]
        ahy = out[1, 1]
        arx = out[2, 0]
        ary = out[2, 1]
        wht = out[1, 2]
        whd = out[1, 3]
        wrt = out[2, 2]
        wrd = out[2, 3]
        dcx = ahx * dh + arx * dr
        dcy = ahy * dh + ary * dr
        dcz = dh
        # velocity terms: b = w x (w x c + 2 c') + k_c
        ex = wy * cz - wz * cy + 2.0 * dcx
        ey = wz * cx - wx * cz + 2.0 * dcy
        ez = wx * cy - wy * cx + 2.0 * dcz
        bx = wy * ez - wz * ey + out[3, 0]
        by = wz * ex - wx * ez + out[3, 1]
        bz = wx * ey - wy * ex
        # angular velocity of the axle, its momentum, the spin couple
        ox = wx + dr
        oy = wy + wht * dh + wrt * dr
        oz = wz + whd * dh + wrd * dr
        hx = jx * ox
        hy = jy * oy
        hz = jz * oz
        gx = -oz * spin
        gz = ox * spin
        ky = jy * out[3, 2]
        kz = jz * out[3, 3]
        mbx = ma * bx
        mby = ma * by
        mbz = ma * bz
        fx -= mbx
        fy -= mby
        fz -= mbz
        mx -= cy * mbz - cz * mby + wy * hz - wz * hy + gx
        my -= cz * mbx - cx * mbz + wz * hx - wx * hz + ky
        mz -= cx * mby - cy * mbx + wx * hy - wy * hx + kz + gz
        qh = -(ahx * mbx + ahy * mby + mbz) - (wht * ky + whd * (kz + gz))
        qr = -(arx * mbx + ary * mby) - (gx + wrt * ky + wrd * (kz + gz))
        # axle block and its rows against [alpha; A]
        khh = ma * (ahx * ahx + ahy * ahy + 1.0) + jy * wht * wht + jz * whd * whd
        khr = ma * (ahx * arx + ahy * ary) + jy * wht * wrt + jz * whd * wrd
        krr = ma * (arx * arx + ary * ary) + jx + jy * wrt * wrt + jz * wrd * wrd
        h0 = ma * (cy - cz * ahy)
        h1 = jy * wht + ma * (cz * ahx - cx)
        h2 = jz * whd + ma * (cx * ahy - cy * ahx)
        h3 = ma * ahx
        h4 = ma * ahy
        h5 = ma
        g0 = jx - ma * cz * ary
        g1 = jy * wrt + ma * cz * arx
        g2 = jz * wrd + ma * (cx * ary - cy * arx)
        g3 = ma * arx
        g4 = ma * ary
        # composite inertia
        mtot += ma
        ixx += jx + ma * (cy * cy + cz * cz)
        iyy += jy + ma * (cx * cx + cz * cz)
        izz += jz + ma * (cx * cx + cy * cy)
        ixy -= ma * cx * cy
        ixz -= ma * cx * cz
        iyz -= ma * cy * cz
        sx += ma * cx
        sy += ma * cy
        sz += ma * cz
        sr = sine(rho)
        cr = cosine(rho)
        # bar and bush energy
        qr -= axle[a, 7] * rho
        qh -= out[1, 12]
        qr -= out[2, 12]
        th = 0.0
        tr = 0.0
        share = 0.5 * axle[a, 8]
        damper_h = 0.0
        damper_r = 0.0
        for side in range(2):
            n = 2 * a + side
            sign = 1.0 - 2.0 * side
            # springs, stops, dampers: forces that push apart
            ls = out[0, 4 + side]
            force = seated_spring(wheel[n, W_K], wheel[n, W_L0] - ls)
            qh += force * out[1, 4 + side]
            qr += force * out[2, 4 + side]
            log[16 + n] = ls
            press = wheel[n, W_STOP] - out[0, 8 + side]
            stop = 0.0
            if press > 0.0:
                stop = hermite(stops, a, press, wheel[n, W_DS])
                qh += stop * out[1, 8 + side]
                qr += stop * out[2, 8 + side]
            log[12 + n] = stop
            log[48 + n] = press
            log[38 + n] = -(out[1, 8 + side] * dh + out[2, 8 + side] * dr)
            dx = -(out[1, 6 + side] * dh + out[2, 6 + side] * dr)
            x = wheel[n, W_LD] - out[0, 6 + side]
            km = wheel[n, W_KM]
            y = km * (x - local[n]) + wheel[n, W_CM] * dx
            fc = wheel[n, W_FC]
            moved = y - min(max(y, -fc), fc)
            rod = hermite(inverse, a, moved - wheel[n, W_Y0], wheel[n, W_DY])
            damper = y - (wheel[n, W_CM] + lag * km) * rod
            local_rate[n] = rod
            log[4 + n] = rod
            log[8 + n] = damper
            push = damper + wheel[n, W_GAS]
            qh += push * out[1, 6 + side]
            qr += push * out[2, 6 + side]
            p_damper -= damper * dx
            damper_h += damper * out[1, 6 + side]
            damper_r += damper * out[2, 6 + side]
            # wheel centre and its slopes; e points along the axle to the left
            e0 = tau * sr - delta * cr
            px = cx + sign * half * e0
            py = cy + sign * half * cr
            pz = cz + sign * half * sr
            eh = wht * sr - whd * cr
            er = wrt * sr + tau * cr - wrd * cr + delta * sr
            phx = ahx + sign * half * eh
            prx = arx + sign * half * er
            pry = ary - sign * half * sr
            prz = sign * half * cr
            # velocity of the wheel centre: body axes, then yaw frame
            bvx = wy * pz - wz * py + phx * dh + prx * dr
            bvy = wz * px - wx * pz + ahy * dh + pry * dr
            bvz = wx * py - wy * px + dh + prz * dr
            vx = speed + r00 * bvx + r01 * bvy + r02 * bvz
            vy = v + r11 * bvy + r12 * bvz
            vz = w + r20 * bvx + r21 * bvy + r22 * bvz
            zw = q[3] + r20 * px + r21 * py + r22 * pz
            # vertical
            d = wheel[n, W_R0] - (zw - inp[n])
            dd = inp[4 + n] - vz
            load = 0.0
            if d > 0.0:
                s = min(d / wheel[n, W_D0], 1.0)
                elastic = wheel[n, W_TK] * (d - wheel[n, W_D0] * (s - 0.5 * s * s))
                load = elastic + wheel[n, W_TC] * s * dd
                if load < 0.0:
                    load = 0.0
                p_tyre -= (load - elastic) * dd
            log[n] = load
            # side force
            ae = r00 * e0 + r01 * cr + r02 * sr
            be = r11 * cr + r12 * sr
            camber = r20 * e0 + r21 * cr + r22 * sr
            heading = -ae / be + out[0, 10 + side]
            if a == 0:
                heading += inp[14]
            fox = r00 * ox + r01 * oy + r02 * oz  # roll rate of the axle in the yaw frame
            vyc = vy + rk * fox
            sh = sine(heading)
            ch = cosine(heading)
            slide = vyc * ch - vx * sh
            along = vx * ch + vyc * sh
            pace = math.sqrt(along * along + 4.0 * slide * slide)
            sigma = wheel[n, W_S0] + wheel[n, W_S1] * load
            yt = local[4 + n]
            ydot = (-slide - yt * pace / sigma) / (1.0 + lag * pace / sigma)
            local_rate[4 + n] = ydot
            ratio = load / wheel[n, W_NK]
            slip = (yt + (lag + wheel[n, W_TD]) * ydot) / sigma - wheel[n, W_KC] * camber
            e = slip * wheel[n, W_CA] / (1.0 + ratio * ratio) / (3.0 * wheel[n, W_MU])
            e = min(max(e, -1.0), 1.0)
            lateral = wheel[n, W_MU] * load * e * (3.0 - 3.0 * abs(e) + e * e)
            log[20 + n] = lateral
            # forces in the yaw frame at the wheel centre, couple of the side force at the ground
            ffx = -load * inp[8 + n] - lateral * sh
            ffy = lateral * ch
            ffz = load
            mfx = rk * ffy
            kx = r00 * ffx + r20 * ffz
            kyy = r01 * ffx + r11 * ffy + r21 * ffz
            kzz = r02 * ffx + r12 * ffy + r22 * ffz
            cmx = r00 * mfx
            cmy = r01 * mfx
            cmz = r02 * mfx
            fx += kx
            fy += kyy
            fz += kzz
            mx += py * kzz - pz * kyy + cmx
            my += pz * kx - px * kzz + cmy
            mz += px * kyy - py * kx + cmz
            qh += phx * kx + ahy * kyy + kzz + wht * cmy + whd * cmz
            qr += prx * kx + pry * kyy + prz * kzz + cmx + wrt * cmy + wrd * cmz
            p_road += load * inp[4 + n] - load * inp[8 + n] * vx
            p_side += -lateral * sh * vx + ffy * vyc
            p_traction += share * (vx - rk * (r11 * oy + r12 * oz))
            # traction: unit force forward at the patch, its torque on the axle
            ux = r00 * share
            uy = r01 * share
            uz = r02 * share
            ny = -r11 * rk * share
            nz = -r12 * rk * share
            tfx += ux
            tfy += uy
            tfz += uz
            tmx += py * uz - pz * uy
            tmy += pz * ux - px * uz + ny
            tmz += px * uy - py * ux + nz
            th += phx * ux + ahy * uy + uz + wht * ny + whd * nz
            tr += prx * ux + pry * uy + prz * uz + wrt * ny + wrd * nz
        # eliminate the axle: keep what is needed to recover it
        det = khh * krr - khr * khr
        i00 = krr / det
        i01 = -khr / det
        i11 = khh / det
        s0 = i00 * qh + i01 * qr
        s1 = i01 * qh + i11 * qr
        t0 = i00 * th + i01 * tr
        t1 = i01 * th + i11 * tr
        mx -= h0 * s0 + g0 * s1
        my -= h1 * s0 + g1 * s1
        mz -= h2 * s0 + g2 * s1
        fx -= h3 * s0 + g3 * s1
        fy -= h4 * s0 + g4 * s1
        fz -= h5 * s0
        tmx -= h0 * t0 + g0 * t1
        tmy -= h1 * t0 + g1 * t1
        tmz -= h2 * t0 + g2 * t1
        tfx -= h3 * t0 + g3 * t1
        tfy -= h4 * t0 + g4 * t1
        tfz -= h5 * t0
        rows[a, 0] = h0
        rows[a, 1] = h1
        rows[a, 2] = h2
        rows[a, 3] = h3
        rows[a, 4] = h4
        rows[a, 5] = h5
        rows[a, 6] = g0
        rows[a, 7] = g1
        rows[a, 8] = g2
        rows[a, 9] = g3
        rows[a, 10] = g4
        rows[a, 11] = 0.0
        rows[a, 12] = i00
        rows[a, 13] = i01
        rows[a, 14] = i11
        rows[a, 15] = s0
        rows[a, 16] = s1
        rows[a, 17] = t0
        rows[a, 18] = t1
        rows[a, 19] = damper_h
        rows[a, 20] = damper_r
    mat[0, 0] = ixx
    mat[1, 0] = ixy
    mat[1, 1] = iyy
    mat[2, 0] = ixz
    mat[2, 1] = iyz
    mat[2, 2] = izz
    mat[3, 0] = 0.0
    mat[3, 1] = sz
    mat[3, 2] = -sy
    mat[3, 3] = mtot
    mat[4, 0] = -sz
    mat[4, 1] = 0.0
    mat[4, 2] = sx
    mat[4, 3] = 0.0
    mat[4, 4] = mtot
    mat[5, 0] = sy
    mat[5, 1] = -sx
    mat[5, 2] = 0.0
    mat[5, 3] = 0.0
    mat[5, 4] = 0.0
    mat[5, 5] = mtot
    for a in range(2):
        i00 = rows[a, 12]
        i01 = rows[a, 13]
        i11 = rows[a, 14]
        for i in range(6):
            left_h = i00 * rows[a, i] + i01 * rows[a, 6 + i]
            left_r = i01 * rows[a, i] + i11 * rows[a, 6 + i]
            for j in range(i + 1):
                mat[i, j] -= left_h * rows[a, j] + left_r * rows[a, 6 + j]
    vec[0, 0] = mx
    vec[0, 1] = my
    vec[0, 2] = mz
    vec[0, 3] = fx
    vec[0, 4] = fy
    vec[0, 5] = fz
    vec[1, 0] = tmx
    vec[1, 1] = tmy
    vec[1, 2] = tmz
    vec[1, 3] = tfx
    vec[1, 4] = tfy
    vec[1, 5] = tfz
    solve6(mat, vec)
    wanted = inp[13] - turn * v
    have = r00 * vec[0, 3] + r01 * vec[0, 4] + r02 * vec[0, 5]
    gain = r00 * vec[1, 3] + r01 * vec[1, 4] + r02 * vec[1, 5]
    pull = (wanted - have) / gain
    for i in range(6):
        vec[0, i] += pull * vec[1, i]
    acc[0] = vec[0, 0]
    acc[1] = vec[0, 1]
    acc[2] = vec[0, 2]
    acc[3] = r11 * vec[0, 4] + r12 * vec[0, 5] - turn * speed
    acc[4] = r20 * vec[0, 3] + r21 * vec[0, 4] + r22 * vec[0, 5] - body[7]
    for a in range(2):
        dot_h = 0.0
        dot_r = 0.0
        for i in range(6):
            dot_h += rows[a, i] * vec[0, i]
            dot_r += rows[a, 6 + i] * vec[0, i]
        acc[5 + 2 * a] = rows[a, 15] + pull * rows[a, 17] - rows[a, 12] * dot_h - rows[a, 13] * dot_r
        acc[6 + 2 * a] = rows[a, 16] + pull * rows[a, 18] - rows[a, 13] * dot_h - rows[a, 14] * dot_r
    log[24] = pull
    for i in range(3):
        log[25 + i] = vec[0, 3 + i]
        log[28 + i] = vec[0, i]
    log[31] = p_road
    log[32] = pull * p_traction
    log[33] = p_damper
    log[34] = p_tyre
    log[35] = p_side
    log[36] = inp[15] * v + inp[16] * (r00 * wx + r01 * wy + r02 * wz) + inp[17] * (r20 * wx + r21 * wy + r22 * wz)
    log[37] = outside
    log[42] = theta
    log[43] = phi
    log[44] = wx
    log[45] = wy
    log[46] = wz


@kernel
def kinematics(q: Floats, u: Floats, speed: float, out: Floats) -> None:
    """Fill out (10,) with the rates of q."""
    sp = sine(q[5])
    cp = cosine(q[5])
    st = sine(q[4])
    ct = cosine(q[4])
    turn = (u[1] * sp + u[2] * cp) / ct
    cy = math.cos(q[2])
    sy = math.sin(q[2])
    out[0] = speed * cy - u[3] * sy
    out[1] = speed * sy + u[3] * cy
    out[2] = turn
    out[3] = u[4]
    out[4] = u[1] * cp - u[2] * sp
    out[5] = u[0] + turn * st
    out[6] = u[5]
    out[7] = u[6]
    out[8] = u[7]
    out[9] = u[8]


@kernel
def run(
    q: Floats,
    u: Floats,
    local: Floats,
    inputs: Floats,
    step: float,
    every: int,
    body: Floats,
    axle: Floats,
    wheel: Floats,
    table: Floats,
    grid: Floats,
    inverse: Floats,
    stops: Floats,
    channels: int,
    states: Floats,
    logs: Floats,
    power: Floats,
) -> int:
    """March through `inputs` (n, 20) at half steps; return the number of steps done (n unless the run diverged).

    q, u and local hold the start and then the end. `states` (n // every, 19) takes q and u at the end of every
    `every`-th step, `logs` (n // every, 52) the log of the half step before it, `power` (6,) the work of road,
    traction, dampers, tyre damping, side forces and outside inputs [J].
    """
    acc = np.zeros(9)
    rate = np.zeros(8)
    log = np.zeros(LOG)
    out = np.zeros((4, CHANNELS))
    mat = np.zeros((6, 6))
    vec = np.zeros((2, 6))
    rows = np.zeros((2, 21))
    qm = np.zeros(10)
    um = np.zeros(9)
    kin = np.zeros(10)
    half = 0.5 * step
    for n in range(inputs.shape[0]):
        inp = inputs[n]
        kinematics(q, u, inp[12], kin)
        for i in range(10):
            qm[i] = q[i] + half * kin[i]
        tries = 2 if n == 0 else 1
        for _ in range(tries):
            for i in range(9):
                um[i] = u[i] + half * acc[i]
            rates(
                qm,
                um,
                local,
                inp,
                half,
                body,
                axle,
                wheel,
                table,
                grid,
                inverse,
                stops,
                channels,
                acc,
                rate,
                log,
                out,
                mat,
                vec,
                rows,
            )
        size = 0.0
        for i in range(9):
            mean = u[i] + half * acc[i]
            # the dampers' work with the speed that the step has in the end, not with the predicted one
            if i > 4:
                power[2] += step * rows[(i - 5) // 2, 20 - i % 2] * (mean - um[i])
            um[i] = mean
            u[i] += step * acc[i]
            size += abs(u[i])
        kinematics(qm, um, inp[12], kin)
        for i in range(10):
            q[i] += step * kin[i]
        for i in range(8):
            local[i] += step * rate[i]
        for i in range(6):
            power[i] += step * log[31 + i]
        if not size < 1e3:  # also true for NaN
            return n
        if (n + 1) % every == 0:
            k = (n + 1) // every - 1
            for i in range(10):
                states[k, i] = q[i]
            for i in range(9):
                states[k, 10 + i] = u[i]
            for i in range(LOG):
                logs[k, i] = log[i]
    return inputs.shape[0]
