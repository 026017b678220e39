"""Compiled right-hand side and stepper of the full vehicle on two axles, rigid or with independent wheels.

States (0-based)
----------------
q (13,)   X, Y, psi, z, theta, phi of the sprung centre of mass P; heave, roll of the front axle, of the rear axle;
          steer of the front wheels about their king pins beside the linkage's own; what the hand wheel has turned
          beyond the angle it was given, over the steering ratio; twist of the frame, front against rear
u (12,)   p, q, r (body axes); v, w of P (yaw frame); heave and roll rate of the front axle, of the rear axle; rates of
          steer and hand wheel; of the twist
local (22,) rod travel of the four dampers (0-3); side deflection of the four tyres (4-7); slip of the four springs'
          friction (8-11); side force that the wheels' bushes feel (12-15); longitudinal force that the tyres make
          room for (16); slip of the steering's friction (17); of the friction of the bushes over the wheels' travel
          (18-21)
Wheels stand in the order front left, front right, rear left, rear right.

Unsprung masses
---------------
Whatever joins the wheels, their kinetic energy is 1/2 m |c'|^2 + 1/2 n |d'|^2 + 1/2 sum of O . J O over both wheels:
c is the mean of the wheel centres and d half their difference, both seen from outside; m is the whole mass and n the
mass that, half at each wheel centre, has the roll inertia left when the wheels' own J is taken off (n = m for
independent wheels). O is the angular velocity of the body plus the rates of the wheel's inclination, of the pitch of
what takes the drive's torque, and of its steer. The one approximation: J stays along body axes.

Steering
--------
The front wheels turn by s about their king pins beside what the linkage does to them, which adds 1/2 I (s'^2 + 2 s' Oz)
to the kinetic energy, Oz the upward element of their mean O. The king pins turn with the pitch of what carries them and
lean with its roll (an upright's, with its camber), so that caster and inclination follow travel in what ground and
tyres do to the wheels; they carry the wheels' mass and inertia as they stand at ride height. Since s meets the other
coordinates in Oz alone it is taken out before anything else: I goes off the axle's own inertia about z, and the moment
about the king pins acts back on whatever turns with Oz.

Frame
-----
A frame that twists turns the body's front end by g0 chi and its rear end by g1 chi about the forward axis through P,
g0 - g1 = 1, against a spring and a damper; see `frame`. Each axle then meets an end that rolls by phi + g chi: its part
of the equations is written in the axes of that end and turned back into those of the body. Its mass against chi is that
of the end's roll, so chi is eliminated from the six body accelerations as one rank. Without a frame (`frame` is None)
all of that is left out when compiling.

Longitudinal forces
-------------------
The traction that holds the prescribed speed is an unknown of the solve, one factor on given shares of the wheels, along
the wheels at their patches. Side forces make room for it by the friction ellipse; there it is taken with a lag, since
it is not known before them.

Parameters
----------
body (21,)       mass, Ixx, Iyy, Izz, x, y, z of P in vehicle axes, gravity, then the tensor's xy, xz, yz elements;
                 see the B_ offsets for steering and lags
axle (2, 13)     mass m, own inertia of both wheels together about x, y, z, their spin inertia over their radius, half
                 track, height of the centre at zero heave, n, unused, loaded radius; the wheels' travel down and up
                 that the map covers; inertia of both wheels about the king pins, 0 if they do not steer freely
wheel (212,)     properties of springs, dampers and tyres, each for the four wheels side by side; see the W_ offsets
table (t,)       of every cell of the axle maps the powers of its bicubic, an array (2, cells of heave, cells of roll, 4
                 powers of heave, 4 of roll, 16) laid flat; heave and roll count from the cell's first corner
grid (16,)       for each axle first heave, 1 / heave step, number of cells, first roll, 1 / roll step, number of
                 cells, heave step, roll step
inverse (2, n, 4)  damper velocity over force variable: powers of its cells, see `cubic`
stops (2, n, 4)    stop force over compression, likewise
frame (5,)       stiffness and damping of the twist, inertia of the body against it, g of front and of rear; or None
inputs (n, 32)   at half steps, see the IN_ offsets; a row of zeros but for the speed is level road, straight ahead,
                 hand wheel held, the vehicle's own shares of drive

What costs time is laid out for the compiler's vectoriser: quantities of four wheels and coefficients of sixteen
channels side by side in flat arrays, counts passed as arguments (a short constant count is not vectorised), indices
unsigned (a signed one is tested for wrapping round). An unsigned index must only meet unsigned ones: with a signed one
numba makes a float of it.
"""

from __future__ import annotations

import math

import numpy as np

from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.compiled import inner_kernel, kernel

U = np.uint64
ONE = U(1)
CHANNELS = 16  # of the tables; they fill whole vectors
WHEELS = 4
POSITIONS = 13  # of q
SPEEDS = 12  # of u
LOCAL = 22
LOG = 73
INPUTS = 32
BLOCK = 128  # kept steps that are written at once: a kilobyte of each quantity
GRIP_TIME = 0.25  # for so long the tyres of an axle may be asked for more than friction holds [s]
TOE = 0.0005  # a spring takes up its load over this length when it seats [m]
QUARTER_REST = 6.123233995736766e-17  # a quarter turn less the number nearest to it [rad]
CREEP = 0.1  # closing speed of a stop from which its loss no longer depends on speed [m/s]; common practice, no source

# columns of the inputs
IN_ROAD, IN_RATE, IN_SLOPE = 0, 4, 8  # under each of the four wheels: height [m], its rate [m/s], slope [-]
IN_SPEED, IN_ACCELERATION = 12, 13  # forward speed of P [m/s] and its rate [m/s^2]
IN_STEER, IN_STEER_RATE = 14, 18  # hand wheel's angle over the steering ratio [rad], its rate [rad/s]
# outside force and moments at P in the yaw frame: left, up, forward [N]; roll, pitch, yaw [N m]. Drag is negative.
IN_SIDE_FORCE, IN_ROLL_MOMENT, IN_YAW_MOMENT = 15, 16, 17
IN_FORWARD_FORCE, IN_VERTICAL_FORCE, IN_PITCH_MOMENT = 19, 20, 21
IN_BRAKING = 22  # 0: traction comes from the drive with its shares, 1: from the brakes with theirs; between: both
IN_SHARE = 23  # of each of the four wheels: share of the traction beyond the vehicle's own; the four add up to 0
IN_HANDS_OFF = 27  # 0: hand wheel held at its angle, 1: free
IN_HAND_MOMENT = 28  # of the driver on a free hand wheel, times the steering ratio [N m]

# offsets of channels in a row of a table's answer
# wheel centre x and y, inclination, steer: each the mean of both wheels, then half the left over the right
T_X, T_DX, T_Y, T_DY, T_LEAN, T_DLEAN, T_STEER, T_DSTEER = U(0), U(1), U(2), U(3), U(4), U(5), U(6), U(7)
T_PITCH, T_ENERGY, T_SPRING, T_DAMPER, T_STOP = U(8), U(9), U(10), U(12), U(14)
# rows of a table's answer: slope over heave, over roll, curvature along the velocity
ROW_H, ROW_R, ROW_K = U(16), U(32), U(48)

# offsets of wheel properties
W_K, W_L0, W_STOP, W_KM, W_CM, W_FC, W_GAS, W_LD = U(0), U(4), U(8), U(12), U(16), U(20), U(24), U(28)
W_Y0, W_DY, W_DS = U(32), U(36), U(40)  # first of the damper's table, 1 / its spacing, 1 / that of the stop's
W_TK, W_TC, W_R0, W_D0, W_S0, W_S1 = U(44), U(48), U(52), U(56), U(60), U(64)  # tyre: vertical, relaxation
W_CA, W_NK, W_MU, W_TD, W_KC = U(68), U(72), U(76), U(80), U(84)  # cornering gain / 3 mu, 1 / its load, ...
W_RK = U(88)  # loaded radius
W_FB, W_FS = U(92), U(96)  # friction of the spring: 1 / sliding distance, its force over that distance
# wheel centre over steer about the king pin: forward, left, up, growth of up; turning about forward, about left under
# brake torque on the knuckle, about up
W_GX, W_GY, W_GZ, W_GZZ, W_GT, W_GL, W_GS = U(100), U(104), U(108), U(112), U(116), U(120), U(124)
W_SD, W_SB = U(128), U(132)  # share of the traction from the drive, from the brakes
W_A0, W_A1 = U(136), U(140)  # half the contact length: at no load, over load
# give of the bushes: steer by own and by the other wheel's side force, inclination by own, steer by longitudinal force
W_CS, W_CX, W_CC, W_CB = U(144), U(148), U(152), U(156)
# ends of the damper's stroke: whether its mounts yield; travel of the rod at which it is open, closed; stiffness of
# the rebound stop, of the bottoming stop
W_SOFT, W_OPEN, W_CLOSED, W_TOP, W_BOTTOM = U(160), U(164), U(168), U(172), U(176)
# friction of the bushes over the wheel's travel: 1 / sliding distance, its force over that distance
W_BB, W_BS = U(180), U(184)
# pitch of the axle at which the king pins have their caster, inclination of the wheel at which they have theirs
W_P0, W_I0 = U(188), U(192)
# share of the stop's force by which it pushes back harder when pressed fast, and less when let go
W_SL = U(196)
# 1 in front, where the hand wheel turns; share of the torque that what carries the wheel takes of drive, of brakes
W_TURNS, W_HD, W_HB = U(200), U(204), U(208)
WHEEL_SIZE = 212

# offsets in the body's properties: column stiffness and damping, steering damper, 1 / sliding angle of the steering's
# friction and its moment over that angle, 1 / inertia of the hand wheel, all about the king pins; whether the wheels
# steer freely; lags of bushes and of the longitudinal force that the ellipse sees
B_COLUMN, B_COLUMN_DAMPING, B_STEERING_DAMPER, B_FRICTION_TURN, B_FRICTION, B_HAND_WHEEL, B_STEERS = (
    11,
    12,
    13,
    14,
    15,
    16,
    17,
)
B_BUSH_LAG, B_TRACTION_LAG, B_STEER_INERTIA = 18, 19, 20  # the last one over 1
BODY_SIZE = 21

# offsets in the work array: what the axles leave for the wheels ...
# wheel centre, inclination and steer, their slopes over heave and roll; of spring, damper and stop the length likewise
OWN_X, OWN_Y, OWN_LEAN, OWN_STEER = U(0), U(4), U(8), U(12)
OWN_XH, OWN_YH, OWN_LEANH, OWN_STEERH = U(16), U(20), U(24), U(28)
OWN_XR, OWN_YR, OWN_LEANR, OWN_STEERR = U(32), U(36), U(40), U(44)
SPRING, SPRING_H, SPRING_R = U(48), U(52), U(56)
DAMPER, DAMPER_H, DAMPER_R = U(60), U(64), U(68)
STOP, STOP_H, STOP_R = U(72), U(76), U(80)
# rates of heave and roll, height of the wheel centre, its slope over roll, pitch, its slopes, side force that the
# bushes of both wheels feel
RISE, ROLL, OWN_Z, OWN_ZR, PITCH, PITCH_H, PITCH_R, BOTH = U(84), U(88), U(92), U(96), U(100), U(104), U(108), U(112)
# ... and what each wheel leaves
# of the tyres
LOAD, LATERAL, ALIGN = U(116), U(120), U(124)
# rates of local states, in their order: side deflection, slip of springs, side force felt, slip of bushes
SIDE_RATE, SLIPS, FELT_RATE, SLIPS_BUSH = U(128), U(132), U(136), U(140)
# of springs' and bushes' friction, of stops
RUB, DAMP_H, DAMP_R, P_RUB, PRESS, CLOSING = U(144), U(148), U(152), U(156), U(160), U(164)
# what the dampers are pressed, its rate, the force on mounts that do not yield
PRESSED, LONG, Y = U(168), U(172), U(176)
# forces of springs and gas on heave and roll
SEAT_H, SEAT_R = U(180), U(184)
# forces and moments on the body, on heave, roll and steer
KX, KY, KZ, MX, MY, MZ, MF, QH, QR, QS = U(188), U(192), U(196), U(200), U(204), U(208), U(212), U(216), U(220), U(224)
# those of a unit of traction, and the wheel's share of it
PUSH, TX, TY, TZ, TMX, TMY, TMZ, TQH, TQR, TQS = (
    U(228),
    U(232),
    U(236),
    U(240),
    U(244),
    U(248),
    U(252),
    U(256),
    U(260),
    U(264),
)
# powers; longitudinal force asked of a tyre and the most that it holds
P_ROAD, P_TYRE, P_SIDE, USED, HELD = U(268), U(272), U(276), U(280), U(284)
TWIST = U(288)  # coupling of a frame's twist with the body's six accelerations
SP, CP, ST, CT = U(294), U(295), U(296), U(297)  # sines and cosines of roll and pitch
WORK_SIZE = 298
ROWS = 24  # of each axle, see `rates`
FACTORS = 22


@inner_kernel
def sine(x: float) -> float:
    """Return sin x for the small angles of body and axles: 1e-12 up to 0.35 rad, 3e-8 up to 1 rad."""
    y = x * x
    return x * (1.0 + y * (-1.0 / 6.0 + y * (1.0 / 120.0 + y * (-1.0 / 5040.0 + y * (1.0 / 362880.0)))))


@inner_kernel
def cosine(x: float) -> float:
    """Return cos x, as `sine`."""
    y = x * x
    return 1.0 + y * (-0.5 + y * (1.0 / 24.0 + y * (-1.0 / 720.0 + y * (1.0 / 40320.0 + y * (-1.0 / 3628800.0)))))


@inner_kernel
def patch(table: Floats, k: np.uint64, x: float, y: float) -> tuple[float, float, float, float, float, float]:
    """Return a channel's value, slopes over x and y, half its second derivatives over x and y, and the mixed one."""
    a3 = table[k + U(48)]
    a2 = table[k + U(32)] + y * a3
    a1 = table[k + U(16)] + y * a2
    f0 = table[k] + y * a1
    e = a2 + y * a3
    g0 = a1 + y * e
    j0 = e + y * a3
    a3 = table[k + U(112)]
    a2 = table[k + U(96)] + y * a3
    a1 = table[k + U(80)] + y * a2
    f1 = table[k + U(64)] + y * a1
    e = a2 + y * a3
    g1 = a1 + y * e
    j1 = e + y * a3
    a3 = table[k + U(176)]
    a2 = table[k + U(160)] + y * a3
    a1 = table[k + U(144)] + y * a2
    f2 = table[k + U(128)] + y * a1
    e = a2 + y * a3
    g2 = a1 + y * e
    j2 = e + y * a3
    a3 = table[k + U(240)]
    a2 = table[k + U(224)] + y * a3
    a1 = table[k + U(208)] + y * a2
    f3 = table[k + U(192)] + y * a1
    e = a2 + y * a3
    g3 = a1 + y * e
    j3 = e + y * a3
    b2 = f2 + x * f3
    b1 = f1 + x * b2
    value = f0 + x * b1
    e = b2 + x * f3
    over_x = b1 + x * e
    along = e + x * f3
    b2 = g2 + x * g3
    b1 = g1 + x * b2
    over_y = g0 + x * b1
    mixed = b1 + x * (b2 + x * g3)
    across = j0 + x * (j1 + x * (j2 + x * j3))
    return value, over_x, over_y, along, across, mixed


@inner_kernel
def table_at(
    table: Floats, grid: Floats, a: int, channels: int, h: float, r: float, dh: float, dr: float, out: Floats
) -> float:
    """Fill out (64,), four rows of 16 channels: value, slopes over heave and roll, second derivative along (dh, dr).

    Returns how far outside the grid the point lies, in cells (0 inside); the end cell's cubic goes on there.
    """
    g = 8 * a
    ih = grid[g + 1]
    ir = grid[g + 4]
    sh = (h - grid[g]) * ih
    sr = (r - grid[g + 3]) * ir
    nh = grid[g + 2]
    nr = grid[g + 5]
    outside = max(max(-sh, sh - nh), max(-sr, sr - nr))
    row = min(max(math.floor(sh), 0.0), nh - 1.0)
    column = min(max(math.floor(sr), 0.0), nr - 1.0)
    x = h - (grid[g] + row * grid[g + 6])
    y = r - (grid[g + 3] + column * grid[g + 7])
    hh = 2.0 * dh * dh
    hr = 2.0 * dh * dr
    rr = 2.0 * dr * dr
    c = ((U(a) * U(nh) + U(row)) * U(nr) + U(column)) * U(256)
    for channel in range(channels):
        o = U(channel)
        value, over_h, over_r, along, across, mixed = patch(table, c + o, x, y)
        out[o] = value
        out[ROW_H + o] = over_h
        out[ROW_R + o] = over_r
        out[ROW_K + o] = hh * along + hr * mixed + rr * across
    return outside


@inner_kernel
def cubic(cells: Floats, a: int, x: float, rate: float) -> float:
    """Return a C1 curve at x from the powers of its cells (cells[a, i] from x = (i - 1) / rate on).

    The first and the last cell go on straight beyond the curve's ends, so nothing has to be asked.
    """
    pos = x * rate + 1.0
    i = math.floor(min(max(pos, 0.0), cells.shape[1] - 1.0))
    t = pos - i
    k = U(i)
    n = U(a)
    return cells[n, k, 0] + t * (cells[n, k, 1] + t * (cells[n, k, 2] + t * cells[n, k, 3]))


@inner_kernel
def cubic_slope(cells: Floats, a: int, x: float, rate: float) -> float:
    """Return the slope of `cubic`."""
    pos = x * rate + 1.0
    i = math.floor(min(max(pos, 0.0), cells.shape[1] - 1.0))
    t = pos - i
    k = U(i)
    n = U(a)
    return rate * (cells[n, k, 1] + t * (2.0 * cells[n, k, 2] + 3.0 * t * cells[n, k, 3]))


@inner_kernel
def seated_spring(rate: float, x: float) -> float:
    """Return the force of a spring compressed by x: none when loose, a short soft start when it seats."""
    seated = max(x, 0.0)
    start = min(seated, TOE)
    return rate * (seated - start + start * start * (0.5 / TOE))


@inner_kernel
def creep(slip: float, pace: float, turn: float, lag: float) -> float:
    """Return the rate of the slip z of a friction that rubs at a pace, dz = dx - z |dx| / b; turn is 1 / b.

    Its force is F0 / b times the slip: stuck at first, to the envelope F0 over some b.
    """
    grip = abs(pace) * turn
    return (pace - slip * grip) / (1.0 + lag * grip)


@inner_kernel
def rod_travel(wheel: Floats, n: np.uint64, pressed: float) -> float:
    """Return the local state of the damper of wheel n pressed between its mounts while nothing moves, both in balance.

    No mount is stretched then, unless the damper would have to be longer than it is open or shorter than it is closed:
    what is missing mounts and stop share by their stiffness; rigid mounts leave it to the stop.
    """
    mount = wheel[W_KM + n]
    opened = wheel[W_OPEN + n]
    closed = wheel[W_CLOSED + n]
    over = max(opened - pressed, pressed - closed)
    if over <= 0.0 or mount <= 0.0:
        return pressed
    stop = wheel[W_TOP + n] if pressed < opened else wheel[W_BOTTOM + n]
    share = TOE * mount / stop * (math.sqrt(1.0 + 2.0 * stop * over / (mount * TOE)) - 1.0)
    if share >= TOE:
        share = (mount * over + 0.5 * stop * TOE) / (mount + stop)
    return opened - share if pressed < opened else closed + share


@inner_kernel
def factor6(m: Floats, f6: Floats) -> None:
    """Fill f6 (22,) with what `solve6` needs of the symmetric matrix m (6, 6), given by its lower triangle.

    By halves of three, each inverted through its cofactors: two divisions that wait for each other instead of six. Both
    halves, of inertia and of mass, are far from singular.
    """
    # inverse of the lower half
    a = m[3, 3]
    d = m[4, 4]
    f = m[5, 5]
    p = m[4, 3]
    q = m[5, 3]
    r = m[5, 4]
    n00 = d * f - r * r
    n10 = q * r - p * f
    n20 = p * r - q * d
    det = 1.0 / (a * n00 + p * n10 + q * n20)
    n00 *= det
    n10 *= det
    n20 *= det
    n11 = (a * f - q * q) * det
    n21 = (p * q - a * r) * det
    n22 = (a * d - p * p) * det
    c00 = m[3, 0]
    c01 = m[3, 1]
    c02 = m[3, 2]
    c10 = m[4, 0]
    c11 = m[4, 1]
    c12 = m[4, 2]
    c20 = m[5, 0]
    c21 = m[5, 1]
    c22 = m[5, 2]
    # e = inverse of the lower half times its coupling to the upper one
    e00 = n00 * c00 + n10 * c10 + n20 * c20
    e10 = n10 * c00 + n11 * c10 + n21 * c20
    e20 = n20 * c00 + n21 * c10 + n22 * c20
    e01 = n00 * c01 + n10 * c11 + n20 * c21
    e11 = n10 * c01 + n11 * c11 + n21 * c21
    e21 = n20 * c01 + n21 * c11 + n22 * c21
    e02 = n00 * c02 + n10 * c12 + n20 * c22
    e12 = n10 * c02 + n11 * c12 + n21 * c22
    e22 = n20 * c02 + n21 * c12 + n22 * c22
    # what is left of the upper half, and its inverse
    a = m[0, 0] - c00 * e00 - c10 * e10 - c20 * e20
    p = m[1, 0] - c01 * e00 - c11 * e10 - c21 * e20
    q = m[2, 0] - c02 * e00 - c12 * e10 - c22 * e20
    d = m[1, 1] - c01 * e01 - c11 * e11 - c21 * e21
    r = m[2, 1] - c02 * e01 - c12 * e11 - c22 * e21
    f = m[2, 2] - c02 * e02 - c12 * e12 - c22 * e22
    s00 = d * f - r * r
    s10 = q * r - p * f
    s20 = p * r - q * d
    s11 = a * f - q * q
    s21 = p * q - a * r
    s22 = a * d - p * p
    det = 1.0 / (a * s00 + p * s10 + q * s20)
    f6[0] = n00
    f6[1] = n10
    f6[2] = n20
    f6[3] = n11
    f6[4] = n21
    f6[5] = n22
    f6[6] = e00
    f6[7] = e10
    f6[8] = e20
    f6[9] = e01
    f6[10] = e11
    f6[11] = e21
    f6[12] = e02
    f6[13] = e12
    f6[14] = e22
    f6[15] = s00
    f6[16] = s10
    f6[17] = s20
    f6[18] = s11
    f6[19] = s21
    f6[20] = s22
    f6[21] = det


@inner_kernel
def solve6(f6: Floats, b: Floats) -> None:
    """Solve the system whose matrix went through `factor6` for both rows of b (2, 6) in place."""
    n00 = f6[0]
    n10 = f6[1]
    n20 = f6[2]
    n11 = f6[3]
    n21 = f6[4]
    n22 = f6[5]
    e00 = f6[6]
    e10 = f6[7]
    e20 = f6[8]
    e01 = f6[9]
    e11 = f6[10]
    e21 = f6[11]
    e02 = f6[12]
    e12 = f6[13]
    e22 = f6[14]
    s00 = f6[15]
    s10 = f6[16]
    s20 = f6[17]
    s11 = f6[18]
    s21 = f6[19]
    s22 = f6[20]
    det = f6[21]
    for row in range(2):
        x3 = b[row, 3]
        x4 = b[row, 4]
        x5 = b[row, 5]
        y0 = (b[row, 0] - e00 * x3 - e10 * x4 - e20 * x5) * det
        y1 = (b[row, 1] - e01 * x3 - e11 * x4 - e21 * x5) * det
        y2 = (b[row, 2] - e02 * x3 - e12 * x4 - e22 * x5) * det
        x0 = s00 * y0 + s10 * y1 + s20 * y2
        x1 = s10 * y0 + s11 * y1 + s21 * y2
        x2 = s20 * y0 + s21 * y1 + s22 * y2
        b[row, 0] = x0
        b[row, 1] = x1
        b[row, 2] = x2
        b[row, 3] = n00 * x3 + n10 * x4 + n20 * x5 - e00 * x0 - e01 * x1 - e02 * x2
        b[row, 4] = n10 * x3 + n11 * x4 + n21 * x5 - e10 * x0 - e11 * x1 - e12 * x2
        b[row, 5] = n20 * x3 + n21 * x4 + n22 * x5 - e20 * x0 - e21 * x1 - e22 * x2


@inner_kernel
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
    wheels: int,
    frame: Floats | None,
    acc: Floats,
    local_rate: Floats,
    log: Floats,
    out: Floats,
    mat: Floats,
    vec: Floats,
    rows: Floats,
    factors: Floats,
    work: Floats,
) -> None:
    """Fill accelerations acc (12,), local_rate (22,) and log (73,).

    `out` (64,), `mat` (6, 6), `vec` (2, 6), `rows` (2, 24), `factors` (22,) and `work` (298,) are
    scratch. rows[a, 19:21] leaves the forces of dampers and friction on heave and roll, rows[0, 23] the damping moment
    on the steer, vec the body's accelerations and those of a unit of traction, work from `SP` on sines and cosines of
    roll and pitch. `local_rate` must still hold what the last step left. `lag` is half the step for the implicit
    midpoint rule of the local states, 0 for the plain equations.

    Friction of springs, bushes and steering follows Fancher, Ervin, MacAdam, Winkler, SAE 800905 (1980; from memory):
    over the travel x its force F goes to the envelope +-F0 as dF = (+-F0 - F) |dx| / b; see `creep`.

    The log holds wheel load (0-3), damper velocity (4-7) and force (8-11), stop force (12-15), spring length (16-19),
    side force (20-23), traction (24), acceleration of P with gravity in body axes (25-27), angular acceleration
    (28-30), power of road (31), traction (32), dampers and friction (33), tyre damping (34), side forces (35),
    outside inputs (36), distance outside the tables in cells (37), closing speed of the stops (38-41), upwards in
    body axes (42, 43, 47), angular velocity in body axes (44-46), stop compression, negative while there is a gap
    (48-51), friction of the springs (52-55), moment about the king pins that the hand wheel holds (56), steer about
    them (57), largest longitudinal force over what the tyres hold, front and rear axle (58, 59), longitudinal forces
    (60-63), aligning moments (64-67), stops at the ends of the dampers' strokes (68-71, bottoming positive), second
    rate of the frame's twist (72).
    """
    theta = q[4]
    phi = q[5]
    st = sine(theta)
    ct = cosine(theta)
    sp = sine(phi)
    cp = cosine(phi)
    work[SP] = sp
    work[CP] = cp
    work[ST] = st
    work[CT] = ct
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
    speed = inp[IN_SPEED]
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
    # outside force and moments at P, given in the yaw frame
    aside = inp[IN_SIDE_FORCE]
    ahead = inp[IN_FORWARD_FORCE]
    up = inp[IN_VERTICAL_FORCE]
    rolls = inp[IN_ROLL_MOMENT]
    pitches = inp[IN_PITCH_MOMENT]
    yaws = inp[IN_YAW_MOMENT]
    fx += r00 * ahead + r20 * up
    fy += r01 * ahead + r11 * aside + r21 * up
    fz += r02 * ahead + r12 * aside + r22 * up
    mx += r00 * rolls + r20 * yaws
    my += r01 * rolls + r11 * pitches + r21 * yaws
    mz += r02 * rolls + r12 * pitches + r22 * yaws
    mtot = mass
    ixx = ix
    iyy = iy
    izz = iz
    sx = 0.0
    sy = 0.0
    sz = 0.0
    outside = 0.0
    p_damper = 0.0
    if frame is not None:
        b01 = r01
        b02 = r02
        b11 = r11
        b12 = r12
        b21 = r21
        b22 = r22
        bwx = wx
        bwy = wy
        bwz = wz
        twisting = u[11]
        twist_mass = frame[2]
        twist_force = -frame[0] * q[12] - frame[1] * twisting
        twist_pull = 0.0
        sd0 = sine(frame[3] * q[12])
        cd0 = cosine(frame[3] * q[12])
        sd1 = sine(frame[4] * q[12])
        cd1 = cosine(frame[4] * q[12])
        p_damper -= frame[1] * twisting * twisting
        for i in range(6):
            work[TWIST + U(i)] = 0.0
    steer = q[10]
    dsteer = u[9]
    steers = body[B_STEERS]
    hand = inp[IN_STEER] + steers * (steer - inp[IN_STEER])
    braking = inp[IN_BRAKING]
    asked = local[16] + lag * local_rate[16]
    gyro = 0.0
    bend = 0.0  # second rate of the linkage's own steer at no acceleration
    for a in range(2):
        h = q[6 + 2 * a]
        rho = q[7 + 2 * a]
        dh = u[5 + 2 * a]
        dr = u[6 + 2 * a]
        if frame is not None:
            # the axes of this end of the frame; what the axle adds is gathered there
            g = frame[3 + a]
            sd = sd0 if a == 0 else sd1
            cd = cd0 if a == 0 else cd1
            r01 = b01 * cd + b02 * sd
            r02 = b02 * cd - b01 * sd
            r11 = b11 * cd + b12 * sd
            r12 = b12 * cd - b11 * sd
            r21 = b21 * cd + b22 * sd
            r22 = b22 * cd - b21 * sd
            wx = bwx + g * twisting
            wy = bwy * cd + bwz * sd
            wz = bwz * cd - bwy * sd
            hold_fx = fx
            hold_fy = fy
            hold_fz = fz
            hold_mx = mx
            hold_my = my
            hold_mz = mz
            hold_xx = ixx
            hold_yy = iyy
            hold_zz = izz
            hold_xy = ixy
            hold_xz = ixz
            hold_yz = iyz
            hold_sx = sx
            hold_sy = sy
            hold_sz = sz
            fx = fy = fz = mx = my = mz = 0.0
            ixx = iyy = izz = ixy = ixz = iyz = 0.0
            sx = sy = sz = 0.0
        far = table_at(table, grid, a, channels, h, rho, dh, dr, out)
        outside = max(outside, far)
        ma = axle[a, 0]
        jx = axle[a, 1]
        jy = axle[a, 2]
        jz = axle[a, 3]
        jk = axle[a, 12]
        jm = jz - jk
        ds = dsteer if a == 0 else 0.0
        spin = axle[a, 4] * speed
        half = axle[a, 5]
        mb = axle[a, 7]
        rk = axle[a, 9]
        sr = sine(rho)
        cr = cosine(rho)
        lift = abs(half * sr)
        outside = max(outside, max(axle[a, 10] - h + lift, h + lift - axle[a, 11]) * grid[8 * a + 1])
        # c and d with their slopes, those of the small rotations
        cx = out[T_X] - body[4]
        cy = out[T_Y] - body[5]
        cz = axle[a, 6] + h - body[6]
        ex = out[T_DX]
        ey = out[T_DY]
        ez = half * sr
        chx = out[ROW_H + T_X]
        chy = out[ROW_H + T_Y]
        ehx = out[ROW_H + T_DX]
        ehy = out[ROW_H + T_DY]
        lh = out[ROW_H + T_LEAN]
        mh = out[ROW_H + T_DLEAN]
        ph = out[ROW_H + T_PITCH]
        sh = out[ROW_H + T_STEER]
        th = out[ROW_H + T_DSTEER]
        crx = out[ROW_R + T_X]
        cry = out[ROW_R + T_Y]
        erx = out[ROW_R + T_DX]
        ery = out[ROW_R + T_DY]
        erz = half * cr
        lr = out[ROW_R + T_LEAN]
        mr = out[ROW_R + T_DLEAN]
        pr = out[ROW_R + T_PITCH]
        shr = out[ROW_R + T_STEER]
        tr = out[ROW_R + T_DSTEER]
        dcx = chx * dh + crx * dr
        dcy = chy * dh + cry * dr
        dcz = dh
        dex = ehx * dh + erx * dr
        dey = ehy * dh + ery * dr
        dez = erz * dr
        # velocity terms: w x (w x c + 2 c') + curvature, times the mass
        ax = wy * cz - wz * cy + 2.0 * dcx
        ay = wz * cx - wx * cz + 2.0 * dcy
        az = wx * cy - wy * cx + 2.0 * dcz
        mbx = ma * (wy * az - wz * ay + out[ROW_K + T_X])
        mby = ma * (wz * ax - wx * az + out[ROW_K + T_Y])
        mbz = ma * (wx * ay - wy * ax)
        ax = wy * ez - wz * ey + 2.0 * dex
        ay = wz * ex - wx * ez + 2.0 * dey
        az = wx * ey - wy * ex + 2.0 * dez
        nbx = mb * (wy * az - wz * ay + out[ROW_K + T_DX])
        nby = mb * (wz * ax - wx * az + out[ROW_K + T_DY])
        nbz = mb * (wx * ay - wy * ax - ez * dr * dr)
        # angular velocity of the wheels' mean, their momentum, the spin couple
        dl = mh * dh + mr * dr
        dt = th * dh + tr * dr
        ox = wx + lh * dh + lr * dr
        oy = wy + ph * dh + pr * dr
        oz = wz + sh * dh + shr * dr
        hx = jx * ox
        hy = jy * oy
        hz = jz * oz + jk * ds
        kx = jx * out[ROW_K + T_LEAN] - (oz + ds) * spin
        ky = jy * out[ROW_K + T_PITCH]
        kz = jm * out[ROW_K + T_STEER] + ox * spin
        if a == 0:
            gyro = ox * spin
            bend = out[ROW_K + T_STEER]
        qx = jx * out[ROW_K + T_DLEAN] - dt * spin
        qz = jz * out[ROW_K + T_DSTEER] + dl * spin
        fx -= mbx
        fy -= mby
        fz -= mbz
        mx -= cy * mbz - cz * mby + ey * nbz - ez * nby + wy * hz - wz * hy + kx
        my -= cz * mbx - cx * mbz + ez * nbx - ex * nbz + wz * hx - wx * hz + ky
        mz -= cx * mby - cy * mbx + ex * nby - ey * nbx + wx * hy - wy * hx + kz
        qh = -(chx * mbx + chy * mby + mbz + ehx * nbx + ehy * nby)
        qh -= lh * kx + ph * ky + sh * kz + mh * qx + th * qz
        qr = -(crx * mbx + cry * mby + erx * nbx + ery * nby + erz * nbz)
        qr -= lr * kx + pr * ky + shr * kz + mr * qx + tr * qz
        # axle block and its rows against [alpha; A]
        jlh = jx * lh
        jph = jy * ph
        jsh = jm * sh
        jlr = jx * lr
        jpr = jy * pr
        jsr = jm * shr
        khh = ma * (chx * chx + chy * chy + 1.0) + mb * (ehx * ehx + ehy * ehy)
        khh += jlh * lh + jph * ph + jsh * sh + jx * mh * mh + jz * th * th
        khr = ma * (chx * crx + chy * cry) + mb * (ehx * erx + ehy * ery)
        khr += jlh * lr + jph * pr + jsh * shr + jx * mh * mr + jz * th * tr
        krr = ma * (crx * crx + cry * cry) + mb * (erx * erx + ery * ery + erz * erz)
        krr += jlr * lr + jpr * pr + jsr * shr + jx * mr * mr + jz * tr * tr
        det = 1.0 / (khh * krr - khr * khr)
        rows[a, 0] = jlh + ma * (cy - cz * chy) - mb * ez * ehy
        rows[a, 1] = jph + ma * (cz * chx - cx) + mb * ez * ehx
        rows[a, 2] = jsh + ma * (cx * chy - cy * chx) + mb * (ex * ehy - ey * ehx)
        rows[a, 3] = ma * chx
        rows[a, 4] = ma * chy
        rows[a, 5] = ma
        rows[a, 6] = jlr - ma * cz * cry + mb * (ey * erz - ez * ery)
        rows[a, 7] = jpr + ma * cz * crx + mb * (ez * erx - ex * erz)
        rows[a, 8] = jsr + ma * (cx * cry - cy * crx) + mb * (ex * ery - ey * erx)
        rows[a, 9] = ma * crx
        rows[a, 10] = ma * cry
        rows[a, 11] = 0.0
        rows[a, 12] = krr * det
        rows[a, 13] = -khr * det
        rows[a, 14] = khh * det
        # composite inertia
        mtot += ma
        nex = mb * ex
        ney = mb * ey
        nez = mb * ez
        ixx += jx + ma * (cy * cy + cz * cz) + ney * ey + nez * ez
        iyy += jy + ma * (cx * cx + cz * cz) + nex * ex + nez * ez
        izz += jm + ma * (cx * cx + cy * cy) + nex * ex + ney * ey
        ixy -= ma * cx * cy + nex * ey
        ixz -= ma * cx * cz + nex * ez
        iyz -= ma * cy * cz + ney * ez
        sx += ma * cx
        sy += ma * cy
        sz += ma * cz
        rows[a, 21] = sh
        rows[a, 22] = shr
        # bushes, bar and whatever else stores energy
        rows[a, 15] = qh - out[ROW_H + T_ENERGY]
        rows[a, 16] = qr - out[ROW_R + T_ENERGY]
        # what the wheels ask for
        n = U(2 * a)
        m = n + ONE
        work[OWN_X + n] = cx + ex
        work[OWN_X + m] = cx - ex
        both = local[U(12) + n] + lag * local_rate[U(12) + n] + (local[U(12) + m] + lag * local_rate[U(12) + m])
        work[RISE + n] = dh
        work[RISE + m] = dh
        work[ROLL + n] = dr
        work[ROLL + m] = dr
        work[OWN_Z + n] = cz + ez
        work[OWN_Z + m] = cz - ez
        work[OWN_ZR + n] = erz
        work[OWN_ZR + m] = -erz
        work[PITCH + n] = out[T_PITCH]
        work[PITCH + m] = out[T_PITCH]
        work[PITCH_H + n] = ph
        work[PITCH_H + m] = ph
        work[PITCH_R + n] = pr
        work[PITCH_R + m] = pr
        work[BOTH + n] = both
        work[BOTH + m] = both
        work[OWN_Y + n] = cy + ey
        work[OWN_Y + m] = cy - ey
        work[OWN_LEAN + n] = out[T_LEAN] + out[T_DLEAN]
        work[OWN_LEAN + m] = out[T_LEAN] - out[T_DLEAN]
        work[OWN_STEER + n] = out[T_STEER] + out[T_DSTEER]
        work[OWN_STEER + m] = out[T_STEER] - out[T_DSTEER]
        work[OWN_XH + n] = chx + ehx
        work[OWN_XH + m] = chx - ehx
        work[OWN_YH + n] = chy + ehy
        work[OWN_YH + m] = chy - ehy
        work[OWN_LEANH + n] = lh + mh
        work[OWN_LEANH + m] = lh - mh
        work[OWN_STEERH + n] = sh + th
        work[OWN_STEERH + m] = sh - th
        work[OWN_XR + n] = crx + erx
        work[OWN_XR + m] = crx - erx
        work[OWN_YR + n] = cry + ery
        work[OWN_YR + m] = cry - ery
        work[OWN_LEANR + n] = lr + mr
        work[OWN_LEANR + m] = lr - mr
        work[OWN_STEERR + n] = shr + tr
        work[OWN_STEERR + m] = shr - tr
        work[SPRING + n] = out[T_SPRING]
        work[SPRING + m] = out[T_SPRING + ONE]
        work[SPRING_H + n] = out[ROW_H + T_SPRING]
        work[SPRING_H + m] = out[ROW_H + T_SPRING + ONE]
        work[SPRING_R + n] = out[ROW_R + T_SPRING]
        work[SPRING_R + m] = out[ROW_R + T_SPRING + ONE]
        work[DAMPER + n] = out[T_DAMPER]
        work[DAMPER + m] = out[T_DAMPER + ONE]
        work[DAMPER_H + n] = out[ROW_H + T_DAMPER]
        work[DAMPER_H + m] = out[ROW_H + T_DAMPER + ONE]
        work[DAMPER_R + n] = out[ROW_R + T_DAMPER]
        work[DAMPER_R + m] = out[ROW_R + T_DAMPER + ONE]
        work[STOP + n] = out[T_STOP]
        work[STOP + m] = out[T_STOP + ONE]
        work[STOP_H + n] = out[ROW_H + T_STOP]
        work[STOP_H + m] = out[ROW_H + T_STOP + ONE]
        work[STOP_R + n] = out[ROW_R + T_STOP]
        work[STOP_R + m] = out[ROW_R + T_STOP + ONE]
        if frame is not None:
            # the end's axes turn in the body: what their angular acceleration has beside the body's own and the twist's
            by = g * twisting * wz
            bz = -g * twisting * wy
            rows[a, 15] -= rows[a, 1] * by + rows[a, 2] * bz
            rows[a, 16] -= rows[a, 7] * by + rows[a, 8] * bz
            mx -= ixy * by + ixz * bz
            my -= iyy * by + iyz * bz
            mz -= iyz * by + izz * bz
            fx -= sz * by - sy * bz
            fy -= sx * bz
            fz += sx * by
            if a == 0:
                bend += bz
            # the twist turns this end about the forward axis
            twist_mass += g * g * ixx
            twist_force += g * mx
            work[TWIST] += g * ixx
            work[TWIST + U(1)] += g * (cd * ixy - sd * ixz)
            work[TWIST + U(2)] += g * (sd * ixy + cd * ixz)
            work[TWIST + U(4)] -= g * (cd * sz + sd * sy)
            work[TWIST + U(5)] += g * (cd * sy - sd * sz)
            # back into the body's axes
            fx += hold_fx
            fy, fz = hold_fy + cd * fy - sd * fz, hold_fz + sd * fy + cd * fz
            mx += hold_mx
            my, mz = hold_my + cd * my - sd * mz, hold_mz + sd * my + cd * mz
            sx += hold_sx
            sy, sz = hold_sy + cd * sy - sd * sz, hold_sz + sd * sy + cd * sz
            ixx += hold_xx
            ixy, ixz = hold_xy + cd * ixy - sd * ixz, hold_xz + sd * ixy + cd * ixz
            both = 2.0 * cd * sd * iyz
            leans = cd * sd * (iyy - izz) + (cd * cd - sd * sd) * iyz
            iyy, izz = hold_yy + cd * cd * iyy + sd * sd * izz - both, hold_zz + sd * sd * iyy + cd * cd * izz + both
            iyz = hold_yz + leans
            for i in range(4):
                j = 3 * i + 1
                rows[a, j], rows[a, j + 1] = (
                    cd * rows[a, j] - sd * rows[a, j + 1],
                    sd * rows[a, j] + cd * rows[a, j + 1],
                )
    # the equations of the body, less its axles, wait for no force
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
    if frame is not None:
        for a in range(2):
            g = frame[3 + a]
            gh = g * rows[a, 0]
            gr = g * rows[a, 6]
            left_h = rows[a, 12] * gh + rows[a, 13] * gr
            left_r = rows[a, 13] * gh + rows[a, 14] * gr
            twist_mass -= left_h * gh + left_r * gr
            for i in range(6):
                work[TWIST + U(i)] -= left_h * rows[a, i] + left_r * rows[a, 6 + i]
        per = 1.0 / twist_mass
        for i in range(6):
            share = per * work[TWIST + U(i)]
            for j in range(i + 1):
                mat[i, j] -= share * work[TWIST + U(j)]
    factor6(mat, factors)
    z = q[3]
    bush_lag = 1.0 / (body[B_BUSH_LAG] + lag)
    if frame is not None:
        g0 = frame[3]
        g1 = frame[4]
    for index in range(wheels):
        n = U(index)
        dh = work[RISE + n]
        dr = work[ROLL + n]
        ph = work[PITCH_H + n]
        pr = work[PITCH_R + n]
        if frame is not None:
            # the axes of this end of the frame
            front = index < 2
            sd = sd0 if front else sd1
            cd = cd0 if front else cd1
            r01 = b01 * cd + b02 * sd
            r02 = b02 * cd - b01 * sd
            r11 = b11 * cd + b12 * sd
            r12 = b12 * cd - b11 * sd
            r21 = b21 * cd + b22 * sd
            r22 = b22 * cd - b21 * sd
            wx = bwx + (g0 if front else g1) * twisting
            wy = bwy * cd + bwz * sd
            wz = bwz * cd - bwy * sd
        gs = wheel[W_GS + n]
        gx = wheel[W_GX + n]
        gy = wheel[W_GY + n]
        # what carries the king pins turns them: the steered wheel rolls and rises with it
        kp = gs * steer
        climb = kp * (0.5 * kp * gy - gx)
        sway = kp * (0.5 * kp * gx + gy)
        plean = work[OWN_LEANH + n]
        rlean = work[OWN_LEANR + n]
        leans = work[OWN_LEAN + n]
        leaned = gs * (leans - wheel[W_I0 + n])
        turned = gs * (work[PITCH + n] - wheel[W_P0 + n])
        # slopes of the wheel centre over heave and roll; turning about the forward direction, the left, the upward axis
        phx = work[OWN_XH + n]
        phy = work[OWN_YH + n]
        phz = 1.0 + climb * ph + sway * plean
        prx = work[OWN_XR + n]
        pry = work[OWN_YR + n]
        prz = work[OWN_ZR + n] + climb * pr + sway * rlean
        psh = work[OWN_STEERH + n]
        psr = work[OWN_STEERR + n]
        pth = r00 * (plean + kp * ph) + r01 * ph + r02 * psh
        ptr = r00 * (rlean + kp * pr) + r01 * pr + r02 * psr
        torque = r11 * (wheel[W_HD + n] + braking * (wheel[W_HB + n] - wheel[W_HD + n]))
        plh = torque * ph + r12 * psh
        plr = torque * pr + r12 * psr
        # wheel centre, moved by steering about the king pin
        raised = wheel[W_GZ + n] - turned * gx + leaned * gy
        gz = raised + (wheel[W_GZZ + n] + turned * gy + leaned * gx) * steer
        gl = wheel[W_GT + n] + turned
        gt = r00 * gl + r02 * gs
        px = work[OWN_X + n] + gx * steer
        py = work[OWN_Y + n] + gy * steer
        pz = work[OWN_Z + n] + 0.5 * (raised + gz) * steer
        # the bushes give
        felt = local[U(12) + n] + lag * local_rate[U(12) + n]
        share = wheel[W_SD + n] + braking * (wheel[W_SB + n] - wheel[W_SD + n]) + inp[U(IN_SHARE) + n]
        give = wheel[W_CS + n] * felt + wheel[W_CX + n] * (work[BOTH + n] - felt)
        give += wheel[W_CB + n] * share * asked
        steered = work[OWN_STEER + n] + wheel[W_TURNS + n] * hand + give
        lean = leans + wheel[W_CC + n] * felt + gl * steer
        # velocity of the wheel centre: body axes, then yaw frame
        bvx = wy * pz - wz * py + phx * dh + prx * dr + gx * dsteer
        bvy = wz * px - wx * pz + phy * dh + pry * dr + gy * dsteer
        bvz = wx * py - wy * px + phz * dh + prz * dr + gz * dsteer
        vx = speed + r00 * bvx + r01 * bvy + r02 * bvz
        vy = v + r11 * bvy + r12 * bvz
        vz = w + r20 * bvx + r21 * bvy + r22 * bvz
        # vertical
        d = max(wheel[W_R0 + n] + inp[n] - (z + r20 * px + r21 * py + r22 * pz), 0.0)
        rising = inp[U(IN_RATE) + n]
        dd = rising - vz
        toe = wheel[W_D0 + n]
        touch = min(d / toe, 1.0)
        elastic = wheel[W_TK + n] * (d - toe * (touch - 0.5 * touch * touch))
        load = max(elastic + wheel[W_TC + n] * touch * dd, 0.0)
        # side force
        rk = wheel[W_RK + n]
        vyc = vy + rk * (r00 * wx + r01 * wy + r02 * wz + pth * dh + ptr * dr + gt * dsteer)
        # the wheel's axis in the body, its heading over the ground and its camber
        ss = sine(steered)
        cs = cosine(steered)
        axis_z = sine(lean)
        across = cosine(lean)
        axis_x = -ss * across
        axis_y = cs * across
        camber = r20 * axis_x + r21 * axis_y + r22 * axis_z
        level = 1.0 / math.sqrt(1.0 - camber * camber)
        sh = -(r00 * axis_x + r01 * axis_y + r02 * axis_z) * level
        ch = (r11 * axis_y + r12 * axis_z) * level
        slide = vyc * ch - vx * sh
        rolled = vx * ch + vyc * sh
        sigma = 1.0 / (wheel[W_S0 + n] + wheel[W_S1 + n] * load)
        pace = math.sqrt(rolled * rolled + 4.0 * slide * slide) * sigma
        yt = local[U(4) + n]
        ydot = (-slide - yt * pace) / (1.0 + lag * pace)
        ratio = load * wheel[W_NK + n]
        slip = (yt + (lag + wheel[W_TD + n]) * ydot) * sigma - wheel[W_KC + n] * camber
        e = min(max(slip * wheel[W_CA + n] / (1.0 + ratio * ratio), -1.0), 1.0)
        # what the longitudinal force leaves of the friction ellipse
        limit = wheel[W_MU + n] * load
        used = share * asked
        room = limit * math.sqrt(max(1.0 - used * used / (limit * limit + 1.0), 0.01))
        size = abs(e)
        lateral = room * e * (3.0 - 3.0 * size + e * e)
        less = 1.0 - size
        aligning = -room * e * less * less * less * (wheel[W_A0 + n] + wheel[W_A1 + n] * load)
        # forces in the yaw frame at the wheel centre, couple of the side force at the ground
        slope = inp[U(IN_SLOPE) + n]
        ffx = -load * slope - lateral * sh
        ffy = lateral * ch
        kx = r00 * ffx + r20 * load
        ky = r01 * ffx + r11 * ffy + r21 * load
        kz = r02 * ffx + r12 * ffy + r22 * load
        work[LOAD + n] = load
        work[LATERAL + n] = lateral
        work[SIDE_RATE + n] = ydot
        work[FELT_RATE + n] = (lateral - local[U(12) + n]) * bush_lag
        work[KX + n] = kx
        work[KY + n] = ky
        work[KZ + n] = kz
        work[MX + n] = py * kz - pz * ky
        work[MY + n] = pz * kx - px * kz
        work[MZ + n] = px * ky - py * kx + aligning
        couple = rk * ffy
        work[MF + n] = couple
        work[QH + n] = phx * kx + phy * ky + phz * kz + couple * pth + aligning * psh
        work[QR + n] = prx * kx + pry * ky + prz * kz + couple * ptr + aligning * psr
        work[QS + n] = gx * kx + gy * ky + gz * kz + couple * gt + aligning * gs
        work[PUSH + n] = share
        work[USED + n] = abs(used)
        work[HELD + n] = limit
        # a unit of traction: along the wheel at its patch, its torque on what carries it
        tx = share * ch
        ty = share * sh
        ux = r00 * tx
        uy = r01 * tx + r11 * ty
        uz = r02 * tx + r12 * ty
        tips = rk * ty
        winds = -rk * tx
        work[TX + n] = ux
        work[TY + n] = uy
        work[TZ + n] = uz
        work[TMX + n] = py * uz - pz * uy + r00 * tips
        work[TMY + n] = pz * ux - px * uz + r01 * tips + r11 * winds
        work[TMZ + n] = px * uy - py * ux + r02 * tips + r12 * winds
        work[TQH + n] = phx * ux + phy * uy + phz * uz + tips * pth + winds * plh
        work[TQR + n] = prx * ux + pry * uy + prz * uz + tips * ptr + winds * plr
        brake = r11 * braking * (wheel[W_GL + n] - wheel[W_HB + n] * leaned) + r12 * gs
        work[TQS + n] = gx * ux + gy * uy + gz * uz + tips * gt + winds * brake
        work[P_ROAD + n] = load * (rising - slope * vx)
        work[P_TYRE + n] = (elastic - load) * dd
        work[P_SIDE + n] = ffy * vyc - lateral * sh * vx + aligning * (wz + psh * dh + psr * dr + gs * dsteer)
        work[ALIGN + n] = aligning
        # springs, bushes, what stops and dampers are pressed: forces that push apart
        length = work[SPRING + n]
        seat_h = work[SPRING_H + n]
        seat_r = work[SPRING_R + n]
        force = seated_spring(wheel[W_K + n], wheel[W_L0 + n] - length)
        shut = -(seat_h * dh + seat_r * dr)
        slip_s = local[U(8) + n]
        slips = creep(slip_s, shut, wheel[W_FB + n], lag)
        rub_s = wheel[W_FS + n] * (slip_s + lag * slips)
        # the bushes' friction over the wheel's travel
        travel_r = work[OWN_ZR + n]
        travelling = dh + travel_r * dr
        slip_b = local[U(18) + n]
        slips_b = creep(slip_b, travelling, wheel[W_BB + n], lag)
        rub_b = wheel[W_BS + n] * (slip_b + lag * slips_b)
        long_h = work[DAMPER_H + n]
        long_r = work[DAMPER_R + n]
        pressed = wheel[W_LD + n] - work[DAMPER + n]
        long = -(long_h * dh + long_r * dr)
        gas = wheel[W_GAS + n]
        work[RUB + n] = rub_s
        work[SLIPS + n] = slips
        work[SLIPS_BUSH + n] = slips_b
        work[PRESS + n] = wheel[W_STOP + n] - work[STOP + n]
        work[CLOSING + n] = -(work[STOP_H + n] * dh + work[STOP_R + n] * dr)
        work[PRESSED + n] = pressed
        work[LONG + n] = long
        work[Y + n] = wheel[W_KM + n] * (pressed - local[n]) + wheel[W_CM + n] * long
        work[DAMP_H + n] = rub_s * seat_h - rub_b
        work[DAMP_R + n] = rub_s * seat_r - rub_b * travel_r
        work[P_RUB + n] = rub_s * shut + rub_b * travelling
        work[SEAT_H + n] = force * seat_h + gas * long_h
        work[SEAT_R + n] = force * seat_r + gas * long_r
    # stops and dampers
    for a in range(2):
        qh = 0.0
        qr = 0.0
        damper_h = 0.0
        damper_r = 0.0
        for side in range(2):
            n = U(2 * a) + U(side)
            qh += work[SEAT_H + n]
            qr += work[SEAT_R + n]
            damper_h += work[DAMP_H + n]
            damper_r += work[DAMP_R + n]
            p_damper -= work[P_RUB + n]
            press = work[PRESS + n]
            stop = 0.0
            if press > 0.0:
                stop = cubic(stops, a, press, wheel[W_DS + n])
                qh += stop * work[STOP_H + n]
                qr += stop * work[STOP_R + n]
                # what it keeps of the work done on it
                closing = work[CLOSING + n]
                rub = wheel[W_SL + n] * stop * closing / math.sqrt(closing * closing + CREEP * CREEP)
                p_damper -= rub * closing
                damper_h += rub * work[STOP_H + n]
                damper_r += rub * work[STOP_R + n]
                stop += rub
            log[U(12) + n] = stop
            pressed = work[PRESSED + n]
            fc = wheel[W_FC + n]
            y = work[Y + n]
            # the ends of the stroke, met by the rod where the last step's speed takes it
            last = local_rate[n]
            near = pressed + wheel[W_SOFT + n] * (local[n] + lag * last - pressed)
            over = wheel[W_OPEN + n] - near
            under = near - wheel[W_CLOSED + n]
            end = 0.0
            steep = 0.0
            if max(over, under) > 0.0:
                end = seated_spring(wheel[W_BOTTOM + n], under) - seated_spring(wheel[W_TOP + n], over)
                rate = wheel[W_BOTTOM + n] if under > 0.0 else wheel[W_TOP + n]
                steep = lag * wheel[W_SOFT + n] * rate * min(max(over, under) / TOE, 1.0)
            free = y - end
            moved = free - min(max(free, -fc), fc)
            rod = cubic(inverse, a, moved - wheel[W_Y0 + n], wheel[W_DY + n])
            if steep > 0.0 and moved != 0.0:
                # implicit as the mounts are: what the rod moves otherwise than foreseen moves the stop's force
                give = steep * cubic_slope(inverse, a, moved - wheel[W_Y0 + n], wheel[W_DY + n])
                rod = (rod + give * last) / (1.0 + give)
                end += steep * (rod - last)
            damper = y - (wheel[W_CM + n] + lag * wheel[W_KM + n]) * rod
            local_rate[n] = rod
            log[U(4) + n] = rod
            log[U(8) + n] = damper - end
            log[U(68) + n] = end
            p_damper -= damper * work[LONG + n]
            damper_h += damper * work[DAMPER_H + n]
            damper_r += damper * work[DAMPER_R + n]
        rows[a, 15] += qh + damper_h
        rows[a, 16] += qr + damper_r
        rows[a, 19] = damper_h
        rows[a, 20] = damper_r
    light = 0.1 * body[7] * mtot  # an axle that holds less is all but in the air
    p_road = 0.0
    p_tyre = 0.0
    p_side = 0.0
    # moment about the king pins: wheels, column, damper, friction, spinning wheels
    wound = inp[IN_STEER] + q[11]
    turning = inp[IN_STEER_RATE] + u[10]
    column = -body[B_COLUMN] * (steer - wound)
    resist = -body[B_COLUMN_DAMPING] * (dsteer - turning)
    slip = local[17]
    slips = creep(slip, dsteer, body[B_FRICTION_TURN], lag)
    rub = -body[B_FRICTION] * (slip + lag * slips)
    local_rate[17] = slips
    damp = rub - body[B_STEERING_DAMPER] * dsteer + resist
    rows[0, 23] = damp
    p_damper += damp * dsteer - resist * turning
    reaction = steers * (work[QS] + work[QS + ONE] + column + damp - gyro)
    pulled = steers * (work[TQS] + work[TQS + ONE])
    if frame is not None:
        r01 = b01
        r02 = b02
        r11 = b11
        r12 = b12
        r21 = b21
        r22 = b22
        wx = bwx
        wy = bwy
        wz = bwz
        # forces and moments of the wheels, and those of a unit of traction, from the ends' axes into the body's
        for a in range(2):
            g = frame[3 + a]
            sd = sd0 if a == 0 else sd1
            cd = cd0 if a == 0 else cd1
            n = U(2 * a)
            m = n + ONE
            twist_force += g * (work[MX + n] + work[MX + m] + r00 * (work[MF + n] + work[MF + m]))
            twist_pull += g * (work[TMX + n] + work[TMX + m])
            for i in range(2):
                o = n + U(i)
                work[KY + o], work[KZ + o] = (
                    cd * work[KY + o] - sd * work[KZ + o],
                    sd * work[KY + o] + cd * work[KZ + o],
                )
                work[MY + o], work[MZ + o] = (
                    cd * work[MY + o] - sd * work[MZ + o],
                    sd * work[MY + o] + cd * work[MZ + o],
                )
                work[TY + o], work[TZ + o] = (
                    cd * work[TY + o] - sd * work[TZ + o],
                    sd * work[TY + o] + cd * work[TZ + o],
                )
                work[TMY + o], work[TMZ + o] = (
                    cd * work[TMY + o] - sd * work[TMZ + o],
                    sd * work[TMY + o] + cd * work[TMZ + o],
                )
    # a unit of traction on the whole, and its power
    tfx = work[TX] + work[TX + U(1)] + work[TX + U(2)] + work[TX + U(3)]
    tfy = work[TY] + work[TY + U(1)] + work[TY + U(2)] + work[TY + U(3)]
    tfz = work[TZ] + work[TZ + U(1)] + work[TZ + U(2)] + work[TZ + U(3)]
    tmx = work[TMX] + work[TMX + U(1)] + work[TMX + U(2)] + work[TMX + U(3)]
    tmy = work[TMY] + work[TMY + U(1)] + work[TMY + U(2)] + work[TMY + U(3)]
    tmz = work[TMZ] + work[TMZ + U(1)] + work[TMZ + U(2)] + work[TMZ + U(3)]
    p_traction = tfx * (r00 * speed + r20 * w) + tfy * (r01 * speed + r11 * v + r21 * w)
    p_traction += tfz * (r02 * speed + r12 * v + r22 * w) + tmx * wx + tmy * wy + tmz * wz + pulled * dsteer
    if frame is not None:
        p_traction += twist_pull * twisting
    # what turns with the king pins takes the moment about them
    if frame is not None:
        my += sd0 * reaction
        mz -= cd0 * reaction
        tmy += sd0 * pulled
        tmz -= cd0 * pulled
    else:
        mz -= reaction
        tmz -= pulled
    back = reaction
    tback = pulled
    for a in range(2):
        n = U(2 * a)
        m = n + ONE
        dh = u[5 + 2 * a]
        dr = u[6 + 2 * a]
        couples = work[MF + n] + work[MF + m]
        fx += work[KX + n] + work[KX + m]
        fy += work[KY + n] + work[KY + m]
        fz += work[KZ + n] + work[KZ + m]
        mx += work[MX + n] + work[MX + m] + r00 * couples
        my += work[MY + n] + work[MY + m] + r01 * couples
        mz += work[MZ + n] + work[MZ + m] + r02 * couples
        p_road += work[P_ROAD + n] + work[P_ROAD + m]
        p_tyre += work[P_TYRE + n] + work[P_TYRE + m]
        p_side += work[P_SIDE + n] + work[P_SIDE + m]
        used = work[USED + n] + work[USED + m]
        held = work[HELD + n] + work[HELD + m]
        log[58 + a] = used * (held > light) / (held + 1.0)
        uh = work[TQH + n] + work[TQH + m]
        ur = work[TQR + n] + work[TQR + m]
        p_traction += uh * dh + ur * dr
        uh -= rows[a, 21] * tback
        ur -= rows[a, 22] * tback
        qh = rows[a, 15] + work[QH + n] + work[QH + m] - rows[a, 21] * back
        qr = rows[a, 16] + work[QR + n] + work[QR + m] - rows[a, 22] * back
        back = 0.0
        tback = 0.0
        # eliminate the axle: keep what is needed to recover it
        i00 = rows[a, 12]
        i01 = rows[a, 13]
        i11 = rows[a, 14]
        s0 = i00 * qh + i01 * qr
        s1 = i01 * qh + i11 * qr
        t0 = i00 * uh + i01 * ur
        t1 = i01 * uh + i11 * ur
        mx -= rows[a, 0] * s0 + rows[a, 6] * s1
        my -= rows[a, 1] * s0 + rows[a, 7] * s1
        mz -= rows[a, 2] * s0 + rows[a, 8] * s1
        fx -= rows[a, 3] * s0 + rows[a, 9] * s1
        fy -= rows[a, 4] * s0 + rows[a, 10] * s1
        fz -= rows[a, 5] * s0
        tmx -= rows[a, 0] * t0 + rows[a, 6] * t1
        tmy -= rows[a, 1] * t0 + rows[a, 7] * t1
        tmz -= rows[a, 2] * t0 + rows[a, 8] * t1
        tfx -= rows[a, 3] * t0 + rows[a, 9] * t1
        tfy -= rows[a, 4] * t0 + rows[a, 10] * t1
        tfz -= rows[a, 5] * t0
        if frame is not None:
            fz -= rows[a, 11] * s1
            tfz -= rows[a, 11] * t1
            g = frame[3 + a]
            gh = g * rows[a, 0]
            gr = g * rows[a, 6]
            twist_force -= gh * s0 + gr * s1
            twist_pull -= gh * t0 + gr * t1
        rows[a, 15] = s0
        rows[a, 16] = s1
        rows[a, 17] = t0
        rows[a, 18] = t1
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
    if frame is not None:
        for i in range(6):
            share = per * work[TWIST + U(i)]
            vec[0, i] -= share * twist_force
            vec[1, i] -= share * twist_pull
    solve6(factors, vec)
    wanted = inp[IN_ACCELERATION] - turn * v
    have = r00 * vec[0, 3] + r01 * vec[0, 4] + r02 * vec[0, 5]
    gain = r00 * vec[1, 3] + r01 * vec[1, 4] + r02 * vec[1, 5]
    pull = (wanted - have) / gain
    for i in range(6):
        vec[0, i] += pull * vec[1, i]
    if frame is not None:
        left = twist_force + pull * twist_pull
        for i in range(6):
            left -= work[TWIST + U(i)] * vec[0, i]
        acc[11] = left / twist_mass
        log[72] = acc[11]
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
        if frame is not None:
            dot_h += rows[a, 0] * frame[3 + a] * acc[11]
            dot_r += rows[a, 6] * frame[3 + a] * acc[11]
        acc[5 + 2 * a] = rows[a, 15] + pull * rows[a, 17] - rows[a, 12] * dot_h - rows[a, 13] * dot_r
        acc[6 + 2 * a] = rows[a, 16] + pull * rows[a, 18] - rows[a, 13] * dot_h - rows[a, 14] * dot_r
    # the steered wheels, less what they turn with; a hand wheel that is free
    hand = column + resist
    yawing = vec[0, 2]
    if frame is not None:
        yawing = cd0 * vec[0, 2] - sd0 * vec[0, 1]
    taken = yawing + rows[0, 21] * acc[5] + rows[0, 22] * acc[6] + bend
    acc[9] = body[B_STEER_INERTIA] * (reaction + pull * pulled) - steers * taken
    acc[10] = inp[IN_HANDS_OFF] * body[B_HAND_WHEEL] * (inp[IN_HAND_MOMENT] - hand)
    local_rate[16] = (pull - local[16]) / (body[B_TRACTION_LAG] + lag)
    log[56] = hand
    log[57] = steer
    for index in range(wheels):
        n = U(index)
        log[n] = work[LOAD + n]
        log[U(16) + n] = work[SPRING + n]
        log[U(20) + n] = work[LATERAL + n]
        log[U(38) + n] = work[CLOSING + n]
        log[U(48) + n] = work[PRESS + n]
        log[U(52) + n] = work[RUB + n]
        log[U(60) + n] = pull * work[PUSH + n]
        log[U(64) + n] = work[ALIGN + n]
    for i in range(12):
        local_rate[U(4) + U(i)] = work[SIDE_RATE + U(i)]
    for i in range(4):
        local_rate[U(18) + U(i)] = work[SLIPS_BUSH + U(i)]
    log[24] = pull
    for i in range(3):
        log[25 + i] = vec[0, 3 + i]
        log[28 + i] = vec[0, i]
    log[31] = p_road
    log[32] = pull * p_traction
    log[33] = p_damper
    log[34] = p_tyre
    log[35] = p_side
    p_outside = ahead * speed + aside * v + up * w + rolls * (r00 * wx + r01 * wy + r02 * wz)
    p_outside += hand * inp[IN_STEER_RATE] + inp[IN_HAND_MOMENT] * u[10]
    log[36] = p_outside + pitches * (r11 * wy + r12 * wz) + yaws * (r20 * wx + r21 * wy + r22 * wz)
    log[37] = outside
    log[42] = r20
    log[43] = r21
    log[47] = r22
    log[44] = wx
    log[45] = wy
    log[46] = wz


@inner_kernel
def turning(u: Floats, sp: float, cp: float, st: float, ct: float, out: Floats) -> None:
    """Fill out (13,) with the rates of q but the first two, from sines and cosines of roll and pitch."""
    turn = (u[1] * sp + u[2] * cp) / ct
    out[2] = turn
    out[3] = u[4]
    out[4] = u[1] * cp - u[2] * sp
    out[5] = u[0] + turn * st
    out[6] = u[5]
    out[7] = u[6]
    out[8] = u[7]
    out[9] = u[8]
    out[10] = u[9]
    out[11] = u[10]
    out[12] = u[11]


@inner_kernel
def advancing(yaw: float, aside: float, speed: float, out: Floats) -> None:
    """Fill the first two of out (13,), the rates of X and Y.

    Sine and cosine to rounding; a call of the library's would put away every number that the step holds at hand.
    """
    quarters = math.floor(yaw * (2.0 / math.pi) + 0.5)
    x = yaw - quarters * (0.5 * math.pi) - quarters * QUARTER_REST
    y = x * x
    s = 1.0 / 6227020800.0 + y * (-1.0 / 1307674368000.0)
    s = -1.0 / 5040.0 + y * (1.0 / 362880.0 + y * (-1.0 / 39916800.0 + y * s))
    s = x + x * y * (-1.0 / 6.0 + y * (1.0 / 120.0 + y * s))
    c = -1.0 / 87178291200.0 + y * (1.0 / 20922789888000.0)
    c = 1.0 / 40320.0 + y * (-1.0 / 3628800.0 + y * (1.0 / 479001600.0 + y * c))
    c = 1.0 + y * (-0.5 + y * (1.0 / 24.0 + y * (-1.0 / 720.0 + y * c)))
    odd = quarters & 1
    cy = s if odd else c
    sy = c if odd else s
    if (quarters + 1) & 2:
        cy = -cy
    if quarters & 2:
        sy = -sy
    out[0] = speed * cy - aside * sy
    out[1] = speed * sy + aside * cy


@inner_kernel
def kinematics(q: Floats, u: Floats, speed: float, out: Floats) -> None:
    """Fill out (13,) with the rates of q."""
    turning(u, sine(q[5]), cosine(q[5]), sine(q[4]), cosine(q[4]), out)
    advancing(q[2], u[3], speed, out)


@inner_kernel
def steer_by_preview(
    q: Floats, u: Floats, speed: float, step: float, pilot: Floats, gains: Floats, way: Floats, memory: Floats
) -> float:
    """Return the steer of the front wheels that a driver who looks ahead adds, reached at the step's end [rad].

    At even times the driver sees how far the path lies to the left of where the vehicle points, at even times ahead,
    and makes up a wish: the steer, held from the time on at which it can be carried out, that brings the vehicle
    closest; see `driver`. The wish waits for the reaction time, passes a lag of first order and is held to a rate and
    an angle. A trim takes out what stays of the distance from the path.

    pilot (11,)     spacing of the path, time between two looks ahead, first speed of `gains`, 1 / its speed step, lag,
                    largest rate, largest steer, largest distance that the trim takes for real, time between wishes,
                    number of looks ahead, direction in which the vehicle rolls straight on
    gains (s, m)    for even speeds: steer over each distance ahead; over lateral speed, yaw rate and steer; rate of the
                    trim over the distance here; steer over each wish on its way, the oldest first
    way (2, k)      X and Y of the path at even lengths; it goes on straight at both ends
    memory (6+d,)   place along the path, trim, steer after the lag, steer after rate and limit, time to the next wish,
                    the wish that acts; then the wishes on their way, the oldest first
    """
    memory[4] -= step
    if memory[4] < 0.5 * step:
        memory[4] += pilot[8]
        spacing = pilot[0]
        points = int(pilot[9])
        cells = way.shape[1] - 2
        cy = math.cos(q[2] + pilot[10])
        sy = math.sin(q[2] + pilot[10])
        # where the vehicle is along the path, and how far the path lies to its left here
        pos = memory[0] / spacing
        i = min(max(math.floor(pos), 0), cells)
        t = pos - i
        dx = way[0, i + 1] - way[0, i]
        dy = way[1, i + 1] - way[1, i]
        ax = q[0] - way[0, i] - t * dx
        ay = q[1] - way[1, i] - t * dy
        memory[0] += (ax * dx + ay * dy) / spacing
        off = (ax * dy - ay * dx) / spacing
        row = min(max((speed - pilot[2]) * pilot[3], 0.0), gains.shape[0] - 1.0)
        g = min(int(row), gains.shape[0] - 2)
        high = row - g
        low = 1.0 - high
        wish = memory[1]
        for n in range(points):
            pos = (memory[0] + speed * pilot[1] * (n + 1)) / spacing
            i = min(max(math.floor(pos), 0), cells)
            t = pos - i
            px = way[0, i] + t * (way[0, i + 1] - way[0, i]) - q[0]
            py = way[1, i] + t * (way[1, i + 1] - way[1, i]) - q[1]
            wish += (low * gains[g, n] + high * gains[g + 1, n]) * (cy * py - sy * px)
        n = points
        wish += (low * gains[g, n] + high * gains[g + 1, n]) * (u[3] - speed * pilot[10])
        wish += (low * gains[g, n + 1] + high * gains[g + 1, n + 1]) * u[2]
        # what the trim holds is not seen to turn the vehicle, nor are the wishes that carry it
        wish += (low * gains[g, n + 2] + high * gains[g + 1, n + 2]) * (memory[3] - memory[1])
        held = min(max(off, -pilot[7]), pilot[7])
        before = memory[1]
        memory[1] += pilot[8] * (low * gains[g, n + 3] + high * gains[g + 1, n + 3]) * held
        late = memory.shape[0] - 6
        for k in range(late):
            wish += (low * gains[g, n + 4 + k] + high * gains[g + 1, n + 4 + k]) * (memory[6 + k] - before)
        if late > 0:
            memory[5] = memory[6]
            for k in range(late - 1):
                memory[6 + k] = memory[7 + k]
            memory[5 + late] = wish
        else:
            memory[5] = wish
    memory[2] += (memory[5] - memory[2]) * step / (pilot[4] + step)
    most = pilot[5] * step
    moved = memory[3] + min(max(memory[2] - memory[3], -most), most)
    memory[3] = min(max(moved, -pilot[6]), pilot[6])
    return memory[3]


@inner_kernel
def pour(block: Floats, states: Floats, logs: Floats, at: int, count: int) -> None:
    """Write the first `count` rows of block into the columns of states and logs from `at` on.

    Whoever reads a run reads one quantity over all times, so each lies in one piece; a whole block is turned at once,
    since a single step would touch as many pages of memory as it has quantities.
    """
    for i in range(logs.shape[0]):
        for j in range(count):
            logs[U(i), U(at) + U(j)] = block[U(j), U(i)]
    for i in range(states.shape[0]):
        for j in range(count):
            states[U(i), U(at) + U(j)] = block[U(j), U(LOG + i)]


@inner_kernel
def advance(
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
    wheels: int,
    frame: Floats | None,
    states: Floats,
    logs: Floats,
    power: Floats,
    pilot: Floats,
    gains: Floats,
    way: Floats,
    memory: Floats,
    acc: Floats,
    rate: Floats,
    out: Floats,
    work: Floats,
    mat: Floats,
    vec: Floats,
    rows: Floats,
    factors: Floats,
    qm: Floats,
    um: Floats,
    kin: Floats,
    block: Floats,
) -> int:
    """March as `run` does, in the scratch arrays given after its own arguments; acc must come as zeros."""
    half = 0.5 * step
    kept = 0
    over_front = 0.0
    over_rear = 0.0
    for n in range(inputs.shape[0]):
        inp = inputs[n]
        if pilot.shape[0] > 0:
            before = memory[3]
            after = steer_by_preview(q, u, inp[IN_SPEED], step, pilot, gains, way, memory)
            inp[IN_STEER] += 0.5 * (before + after)
            inp[IN_STEER_RATE] += (after - before) / step
        # of the middle of the step the equations ask all but the place
        turning(u, sine(q[5]), cosine(q[5]), sine(q[4]), cosine(q[4]), kin)
        for i in range(2, POSITIONS):
            qm[i] = q[i] + half * kin[i]
        log = block[U(kept % BLOCK)]
        tries = 2 if n == 0 else 1
        for _ in range(tries):
            for i in range(SPEEDS):
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
                wheels,
                frame,
                acc,
                rate,
                log,
                out,
                mat,
                vec,
                rows,
                factors,
                work,
            )
        # longitudinal forces that the tyres of an axle do not hold, for longer than an axle bounces
        over_front = over_front + step if log[58] > 1.0 else 0.0
        over_rear = over_rear + step if log[59] > 1.0 else 0.0
        if max(over_front, over_rear) > GRIP_TIME and logs.shape[1] > 0:
            for i in range(LOG):
                logs[i, 0] = log[i]
            return -(n + 1)
        if frame is not None:
            power[2] -= step * frame[1] * um[11] * (u[11] + half * acc[11] - um[11])
        size = 0.0
        for i in range(SPEEDS):
            mean = u[i] + half * acc[i]
            # the dampers' work with the speed that the step has in the end, not with the predicted one
            if 4 < i < 9:
                power[2] += step * rows[(i - 5) // 2, 20 - i % 2] * (mean - um[i])
            elif i == 9:
                power[2] += step * rows[0, 23] * (mean - um[i])
            um[i] = mean
            u[i] += step * acc[i]
            size += abs(u[i])
        turning(um, work[SP], work[CP], work[ST], work[CT], kin)
        advancing(qm[2], um[3], inp[IN_SPEED], kin)
        for i in range(POSITIONS):
            q[i] += step * kin[i]
        for i in range(LOCAL):
            local[i] += step * rate[i]
        for i in range(6):
            power[i] += step * log[31 + i]
        power[6] = max(power[6], log[37])
        if not size < 1e3:  # also true for NaN
            pour(block, states, logs, kept - kept % BLOCK, kept % BLOCK)
            return n
        if (n + 1) % every == 0:
            for i in range(POSITIONS):
                log[LOG + i] = q[i]
            for i in range(SPEEDS):
                log[LOG + POSITIONS + i] = u[i]
            kept += 1
            if kept % BLOCK == 0:
                pour(block, states, logs, kept - BLOCK, BLOCK)
    pour(block, states, logs, kept - kept % BLOCK, kept % BLOCK)
    return inputs.shape[0]


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
    wheels: int,
    frame: Floats | None,
    states: Floats,
    logs: Floats,
    power: Floats,
    pilot: Floats,
    gains: Floats,
    way: Floats,
    memory: Floats,
) -> int:
    """March through `inputs` (n, 32) at half steps; return the number of steps done (n unless the run diverged).

    Where the tyres of an axle have not held the longitudinal force for `GRIP_TIME`, minus that number comes back and
    the first column of `logs` has the log of that moment.

    A driver (see `steer_by_preview`; none if `pilot` is empty) adds his steer to that of `inputs`, in place.

    q, u and local hold the start and then the end. `states` (25, n // every) takes q and u at the end of every
    `every`-th step, `logs` (73, n // every) the log of the half step before it, `power` (7,) the work of road,
    traction, dampers with all friction, tyre damping, side forces and outside inputs [J], and the largest distance
    outside the tables.
    """
    return advance(
        q,
        u,
        local,
        inputs,
        step,
        every,
        body,
        axle,
        wheel,
        table,
        grid,
        inverse,
        stops,
        channels,
        wheels,
        frame,
        states,
        logs,
        power,
        pilot,
        gains,
        way,
        memory,
        np.zeros(SPEEDS),
        np.zeros(LOCAL),
        np.zeros(4 * CHANNELS),
        np.zeros(WORK_SIZE),
        np.zeros((6, 6)),
        np.zeros((2, 6)),
        np.zeros((2, ROWS)),
        np.zeros(FACTORS),
        np.zeros(POSITIONS),
        np.zeros(SPEEDS),
        np.zeros(POSITIONS),
        np.zeros((BLOCK, LOG + POSITIONS + SPEEDS)),
    )


@kernel
def at_rest(
    positions: Floats,
    inputs: Floats,
    body: Floats,
    axle: Floats,
    wheel: Floats,
    table: Floats,
    grid: Floats,
    inverse: Floats,
    stops: Floats,
    channels: int,
    wheels: int,
    frame: Floats | None,
    local: Floats,
    local_rate: Floats,
    log: Floats,
    acc: Floats,
) -> None:
    """Fill the accelerations acc (n, 12) at positions (n, 13) with nothing moving, dampers and mounts in balance.

    `local` (18,) and `log` keep those of the last position; `local_rate` (18,) goes
    on from call to call, zeros at first.
    """
    u = np.zeros(SPEEDS)
    out = np.zeros(4 * CHANNELS)
    work = np.zeros(WORK_SIZE)
    mat = np.zeros((6, 6))
    vec = np.zeros((2, 6))
    rows = np.zeros((2, ROWS))
    factors = np.zeros(FACTORS)
    for j in range(positions.shape[0]):
        q = positions[j]
        for a in range(2):
            table_at(table, grid, a, channels, q[6 + 2 * a], q[7 + 2 * a], 0.0, 0.0, out)
            for side in range(2):
                n = U(2 * a + side)
                local[n] = rod_travel(wheel, n, wheel[W_LD + n] - out[T_DAMPER + U(side)])
        rates(
            q,
            u,
            local,
            inputs,
            0.0,
            body,
            axle,
            wheel,
            table,
            grid,
            inverse,
            stops,
            channels,
            wheels,
            frame,
            acc[j],
            local_rate,
            log,
            out,
            mat,
            vec,
            rows,
            factors,
            work,
        )


@kernel
def come_to_rest(
    q: Floats,
    free: Ints,
    rows: Ints,
    limit: Floats,
    still: float,
    most: int,
    inputs: Floats,
    body: Floats,
    axle: Floats,
    wheel: Floats,
    table: Floats,
    grid: Floats,
    inverse: Floats,
    stops: Floats,
    channels: int,
    wheels: int,
    frame: Floats | None,
    local: Floats,
    local_rate: Floats,
    log: Floats,
    slopes: Floats,
) -> float:
    """Move q (13,) by Newton steps to where the accelerations `rows` (n,) vanish; returns the largest that is left.

    Of q the coordinates `free` (n,) move, none by more than `limit` (n,) at once. Ends below `still`, or after `most`
    steps. `slopes` (n, n) is how those accelerations change with those coordinates where it ends; `local` and `log` are
    those there. Returns -1 for a singular step, infinity where an acceleration is not a number.
    """
    n = free.size
    step = 1e-6
    around = np.empty((2 * n + 1, q.size))
    acc = np.zeros((2 * n + 1, SPEEDS))
    one = np.empty((1, q.size))
    found = np.zeros((1, SPEEDS))
    m = np.empty((n, n))
    move = np.empty(n)
    size = math.inf
    for turn in range(most + 1):
        for i in range(q.size):
            for j in range(2 * n + 1):
                around[j, i] = q[i]
        for j in range(n):
            around[2 * j, free[j]] += step
            around[2 * j + 1, free[j]] -= step
        at_rest(
            around, inputs, body, axle, wheel, table, grid, inverse, stops, channels, wheels, frame, local, local_rate,
            log, acc,
        )  # fmt: skip
        size = 0.0
        for i in range(n):
            here = math.fabs(acc[2 * n, rows[i]])
            if not here < math.inf:
                return math.inf
            size = max(size, here)
            move[i] = -acc[2 * n, rows[i]]
            for j in range(n):
                slopes[i, j] = (acc[2 * j, rows[i]] - acc[2 * j + 1, rows[i]]) / (2.0 * step)
                m[i, j] = slopes[i, j]
        if size < still or turn == most:
            break
        for i in range(n):
            p = i
            for k in range(i + 1, n):
                if math.fabs(m[k, i]) > math.fabs(m[p, i]):
                    p = k
            if m[p, i] == 0.0:
                return -1.0
            if p != i:
                for j in range(n):
                    m[i, j], m[p, j] = m[p, j], m[i, j]
                move[i], move[p] = move[p], move[i]
            for k in range(i + 1, n):
                f = m[k, i] / m[i, i]
                for j in range(i, n):
                    m[k, j] -= f * m[i, j]
                move[k] -= f * move[i]
        for i in range(n - 1, -1, -1):
            for j in range(i + 1, n):
                move[i] -= m[i, j] * move[j]
            move[i] /= m[i, i]
        share = 1.0
        for i in range(n):
            share = min(share, limit[i] / max(math.fabs(move[i]), 1e-15))
        for i in range(n):
            move[i] *= share
        share = 1.0
        for _ in range(12):
            for i in range(q.size):
                one[0, i] = q[i]
            for i in range(n):
                one[0, free[i]] += share * move[i]
            at_rest(
                one, inputs, body, axle, wheel, table, grid, inverse, stops, channels, wheels, frame, local, local_rate,
                log, found,
            )  # fmt: skip
            closer = True
            for i in range(n):
                closer = closer and math.fabs(found[0, rows[i]]) < size
            if closer or share < 1e-3:
                break
            share *= 0.5
        for i in range(q.size):
            q[i] = one[0, i]
    return size
