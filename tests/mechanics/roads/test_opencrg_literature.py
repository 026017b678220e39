"""Surfaces in ASAM OpenCRG, written here from the standard's description and read back.

Source: ASAM OpenCRG 1.2, as the remarks in the head of ASAM's own text examples describe it (the standard's document
was not seen): named blocks of at most 72 bytes a line, `$$$$` before the data; records of 80 bytes; LRFI and LDFI hold
numbers of 10 and 20 characters, each row in records of its own; KRBI and KDBI hold big-endian IEEE numbers of 4 and 8
bytes one after the other, the last record filled with NaN; a missing number starts with `*`. Channels: heading, banking
and slope of the reference line, then the long sections from right to left. A row's heading and slope lead to it from
the row before, so those of the first row are unused; height of a point: reference line's height + v banking + z.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from tussock.errors import InputError
from tussock.mechanics.roads import Section, Stretch, build, read_road
from tussock.mechanics.table_text import TableError

pytestmark = pytest.mark.literature

STEP = 0.05
U = np.arange(0.0, 40.0 + 1e-9, STEP)
V = np.array([-1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5])
FORMATS = ("LRFI", "LDFI", "KRBI", "KDBI")


def written(
    kind: str, z: np.ndarray, *, v=V, heading=None, banking=None, slope=None, even=True, mods: str = ""
) -> bytes:
    """Return an OpenCRG file of heights (n, m) over U and v."""
    lines = ["$CT", "an invented test road", "$!" + "*" * 60, "$ROAD_CRG"]
    lines += ["REFERENCE_LINE_START_U = 0.0", f"REFERENCE_LINE_END_U = {U[-1]}", f"REFERENCE_LINE_INCREMENT = {STEP}"]
    lines += [f"LONG_SECTION_V_RIGHT = {v[0]}", f"LONG_SECTION_V_LEFT = {v[-1]}"]
    if even:
        lines.append(f"LONG_SECTION_V_INCREMENT = {v[1] - v[0]}")
    lines += [mods] if mods else []
    lines += ["$!" + "*" * 60, "$KD_Definition", f"#:{kind}", f"U:reference line u,m,0,{STEP}"]
    columns = []
    for title, unit, channel in (("phi", "rad", heading), ("banking", "m/m", banking), ("slope", "m/m", slope)):
        if channel is not None:
            lines.append(f"D:reference line {title},{unit}")
            columns.append(channel)
    for i, place in enumerate(v):
        lines.append(f"D:long section {i + 1},m" if even else f"D:long section at v = {place:.3f},m")
    data = np.column_stack([*columns, z])
    head = "\n".join([*lines, "$!" + "*" * 60, "$" * 80]) + "\n"
    assert max(len(line) for line in lines) <= 72
    if kind[0] == "K":
        word = ">f4" if kind[1] == "R" else ">f8"
        flat = data.ravel().astype(word)
        per = 80 // flat.itemsize
        filled = np.full(-(-flat.size // per) * per, np.nan, dtype=word)
        filled[: flat.size] = flat
        return head.encode("latin-1") + filled.tobytes()
    width, digits = (10, 7) if kind[1] == "R" else (20, 15)
    rows = []
    for row in data:
        cells = [f"{c:{width}.{digits}f}"[:width] if math.isfinite(c) else "*missing*".rjust(width) for c in row]
        per = 80 // width
        rows += ["".join(cells[i : i + per]) for i in range(0, len(cells), per)]
    return (head + "\n".join(rows) + "\n").encode("latin-1")


def surface(v=V) -> np.ndarray:
    """A wave along, another across: no two lines alike."""
    return 0.02 * np.sin(2.0 * math.pi * U / 4.0)[:, None] * (1.0 + 0.5 * v)[None, :] + 0.01 * v[None, :] ** 2


@pytest.mark.parametrize("kind", FORMATS)
def test_heights_of_every_format(kind):
    """Numbers of 10 characters and of single precision both hold 1e-7 m here."""
    road = read_road(written(kind, surface()), "road.crg")
    np.testing.assert_allclose(road.distance, U, atol=1e-9)
    np.testing.assert_allclose(road.across, V, atol=1e-9)
    np.testing.assert_allclose(road.heights, surface(), atol=1.1e-7)
    assert road.length == pytest.approx(40.0)


@pytest.mark.parametrize("kind", FORMATS)
def test_banking_slope_and_uneven_lines(kind):
    v = np.array([-1.5, -0.8, 0.0, 0.3, 1.5])
    banking = 0.03 * np.sin(U / 7.0)
    slope = 0.02 * np.cos(U / 9.0)
    road = read_road(written(kind, surface(v), v=v, banking=banking, slope=slope, even=False), "road.crg")
    rise = np.concatenate([[0.0], np.cumsum(slope[1:]) * STEP])
    np.testing.assert_allclose(road.across, v, atol=1e-6)
    np.testing.assert_allclose(
        road.heights, surface(v) + rise[:, None] + banking[:, None] * v[None, :], atol=3e-6
    )  # slopes of 7 decimals add up over 800 rows


def test_modifiers_of_the_file_count():
    """SCALE_Z_GRID, a keyword of the block of modifiers."""
    road = read_road(written("LDFI", surface(), mods="$!\n$ROAD_CRG_MODS\nSCALE_Z_GRID = 2.0"), "road.crg")
    np.testing.assert_allclose(road.heights, 2.0 * surface(), atol=1e-6)


@pytest.mark.parametrize("kind", FORMATS)
def test_wheels_run_where_they_stand(kind):
    """Tracks 1.5 m apart lie between the lines at 0.5 and 1.0 m; in the middle of the section nothing is blended."""
    raw = read_road(written(kind, surface()), "road.crg")
    for offset in (0.0, 0.6):
        section = Section(name="lane", length=36.0, speed=10.0, measured=Stretch(road=raw, start=2.0, offset=offset))
        road = build(section, track=1.5, seed=1)
        x = road.distance
        inside = (x > 12.0) & (x < 24.0)
        wheels = []
        for place in (offset + 0.75, offset - 0.75):
            low, high = math.floor(place / 0.5) * 0.5, math.ceil(place / 0.5) * 0.5
            share = (place - low) / 0.5
            lines = [
                0.02 * np.sin(2.0 * math.pi * (x + 2.0) / 4.0) * (1.0 + 0.5 * v) + 0.01 * v**2 for v in (low, high)
            ]
            wheels.append((1.0 - share) * lines[0] + share * lines[1])
        line = np.interp(x, x[[0, -1]], 0.5 * (wheels[0] + wheels[1])[[0, -1]])
        np.testing.assert_allclose(road.left[inside], (wheels[0] - line)[inside], atol=2e-6)
        np.testing.assert_allclose(road.right[inside], (wheels[1] - line)[inside], atol=2e-6)


def holed() -> np.ndarray:
    z = surface()
    z[300:304, 5] = math.nan  # 15.0 to 15.15 m, 1 m left
    z[:, 6] = math.nan  # never measured: the wheels do not go there
    return z


def test_a_hole_beside_the_wheels_is_none():
    raw = read_road(written("KRBI", holed()), "road.crg")
    narrow = build(Section(name="s", length=39.0, speed=10.0, measured=Stretch(road=raw)), track=1.0, seed=1)
    assert np.all(np.isfinite(narrow.left))
    late = Section(name="s", length=20.0, speed=10.0, measured=Stretch(road=raw, start=18.0))
    assert np.all(np.isfinite(build(late, track=1.5, seed=1).left))


def lay(raw: bytes, *, length=39.0, track=1.5, **place):
    road = read_road(raw, "moor.crg")
    return build(
        Section(name="moor", length=length, speed=9.0, measured=Stretch(road=road, **place)), track=track, seed=1
    )


@pytest.mark.parametrize(("make", "text"), [
    (lambda: lay(written("LRFI", holed())), r"'moor': moor.crg: 4 points under the left wheels .* first at 15.00 m"),
    (lambda: lay(written("LRFI", surface()), track=3.2), r"left wheels run 1.6 m left .* covers -1.5 to 1.5 m"),
    (lambda: lay(written("LRFI", surface()), offset=-1.0), r"right wheels run -1.75 m left of the reference line"),
    (lambda: lay(written("LRFI", surface()), start=5.0), r"40.00 m were measured; a section from 5 m over 39 m"),
    (lambda: read_road(written("LRFI", surface())[:-9000], "cut.crg"), r"cut.crg: it is cut off: its head says 40 m"),
    (lambda: read_road(written("KDBI", surface())[:-9000], "cut.crg"), r"cut.crg: this OpenCRG file .* enough records"),
    (lambda: read_road(b"$ROAD_CRG_FILE\n/etc/hosts\n$ROAD_CRG\n", "far.crg"), r"data stand in another file"),
    (lambda: read_road(written("LRFI", surface()).replace(b"LRFI", b"XXXX"), "odd.crg"), "said to be 'XXXX'"),
])  # fmt: skip
def test_refusals_in_words(make, text):
    with pytest.raises((InputError, ValueError), match=text):
        make()


def test_random_damage_is_refused_or_read_and_never_more():
    """The library is compiled code; 40 files with bytes changed, cut out or put in."""
    rng = np.random.default_rng(5)
    whole = written("LRFI", surface())
    refused = 0
    for i in range(40):
        raw = bytearray(whole)
        at = int(rng.integers(0, 1500))
        if i % 2:
            raw[at : at + int(rng.integers(1, 60))] = b""
        else:
            raw[at : at + 4] = rng.integers(0, 256, 4, dtype=np.uint8).tobytes()
        try:
            assert read_road(bytes(raw), "damaged.crg").distance.size >= 16
        except TableError:
            refused += 1
    assert 0 < refused
