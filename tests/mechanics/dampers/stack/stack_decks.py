"""Disc stacks as solids: input files for the open-source finite-element solver CalculiX, and what it answers.

``python tests/mechanics/dampers/stack/stack_decks.py [case ...]`` solves all or the named cases with an installed
``ccx`` (Debian package calculix-ccx) and writes them into stack_solids.json beside this file; tall stacks take an hour
of processor time. Quadratic axisymmetric solids with reduced integration (CAX8R), large deflection on, two element
layers a disc, frictionless surface-to-surface penalty contact, all nodes of the inner edge held, pressure on the lower
face; seat and washer are held blocks with a sharp edge. Elements shrink towards every rim, clamp, seat and washer edge,
where contact forces gather: with 0.1 mm throughout and 1e6 MPa/mm the open ring's lift is 0.15 % and its last discs'
deflection 0.6 % off; from 0.02 mm and 1e7 MPa/mm to half the length, twice the layers or ten times the contact
stiffness it moves by 0.05 % and 0.15 %. Twelve tapered discs on two finer meshes (0.12 and 0.02 mm with 1e7 MPa/mm,
0.1 and 0.025 mm with 5e6) move by 0.08 % or less, the first by 0.13 %, away from the plates. All stacks are invented.
"""

from __future__ import annotations

import json
import math
import re
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TypedDict

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.stack import Disc, Material, Port, Seat, Stack, Washer

STEEL, BRONZE, POISSON = 206000.0, 115000.0, 0.3
LAYERS = 2
RESULTS = Path(__file__).with_name("stack_solids.json")


class Answer(TypedDict):
    """One state: pressure [MPa], deflection of each rim's middle [mm], forces on clamps, seat and washer [N, up].

    `root` holds a radius [mm] near each clamp with the radial stress on the lower and the upper face there [MPa].
    """

    pressure: float
    tips: list[float]
    clamp: list[float]
    seat: float
    washer: float
    root: list[tuple[float, float, float]]


@dataclass(frozen=True, kw_only=True)
class Case:
    """Discs as (radius, thickness), clamp and port radii, gaps, seat and washer (radius, height) [mm].

    Moduli and pressures [MPa]; `length` of elements and `fine` at edges [mm], contact stiffness [MPa/mm].
    """

    discs: tuple[tuple[float, float], ...]
    pressures: tuple[float, ...]
    clamp: float | tuple[float, ...] = 5.0
    port: tuple[float, float] = (8.0, 12.0)
    gaps: tuple[float, ...] = ()
    modulus: float | tuple[float, ...] = STEEL
    seat: tuple[float, float] | None = None
    washer: tuple[float, float] | None = None
    length: float = 0.1
    fine: float = 0.02
    stiffness: float = 1e7

    @property
    def clamps(self) -> tuple[float, ...]:
        """One clamp radius a disc [mm]."""
        return self.clamp if isinstance(self.clamp, tuple) else (self.clamp,) * len(self.discs)

    @property
    def moduli(self) -> tuple[float, ...]:
        """One modulus a disc [MPa]."""
        return self.modulus if isinstance(self.modulus, tuple) else (self.modulus,) * len(self.discs)

    @property
    def pairs(self) -> list[tuple[int, int]]:
        """Discs (0-based) that may meet: neighbours, and those past smaller ones between."""
        found = []
        for i in range(len(self.discs)):
            between = 0.0
            for j in range(i + 1, len(self.discs)):
                if min(self.discs[i][0], self.discs[j][0]) > between + 1e-9:
                    found.append((i, j))
                between = max(between, self.discs[j][0])
        return found

    def stack(self) -> Stack:
        """The same as plates."""
        return Stack(
            discs=tuple(
                Disc(
                    radius=r * 1e-3,
                    thickness=t * 1e-3,
                    material=Material(
                        youngs_modulus=e * 1e6, poisson_ratio=POISSON, density=7850.0, fatigue_strength=800e6
                    ),
                )
                for (r, t), e in zip(self.discs, self.moduli, strict=True)
            ),
            clamp_radius=tuple(c * 1e-3 for c in self.clamps),
            ports=(Port(inner=self.port[0] * 1e-3, outer=self.port[1] * 1e-3),),
            gaps=tuple(g * 1e-3 for g in self.gaps),
            seats=(Seat(radius=self.seat[0] * 1e-3, height=self.seat[1] * 1e-3),) if self.seat else (),
            washer=Washer(radius=self.washer[0] * 1e-3, height=self.washer[1] * 1e-3) if self.washer else None,
        )

    def lines(self) -> Floats:
        """Radii of element ends [mm], shared by all discs."""
        edges = {*self.clamps, *(r for r, _ in self.discs)}
        edges |= {part[0] for part in (self.seat, self.washer) if part}
        sharp = np.array(sorted(edges))
        marks = sorted(edges | set(self.port))
        out = [marks[0]]
        for a, b in pairwise(marks):
            x = np.linspace(a, b, 401)
            near = np.abs(x[:, None] - sharp).min(axis=1)
            density = 1.0 / np.minimum(self.length, self.fine + 0.25 * near)
            total = np.concatenate(([0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(x))))
            pieces = max(1, math.ceil(total[-1] - 1e-6))
            out += [*np.interp(np.arange(1, pieces) / pieces * total[-1], total, x).tolist(), b]
        return np.array(out)


SHORT = Case(discs=((14.0, 0.2), (11.0, 0.2)), pressures=(0.1,), length=0.2, fine=0.05, stiffness=1e6)
EIGHT = ((14.0, 0.2), (14.0, 0.2), (13.0, 0.2), (12.0, 0.15), (11.0, 0.2), (10.0, 0.2), (9.0, 0.2), (8.0, 0.3))
FIFTEEN = tuple(
    zip(
        (16.0, 16.0, 16.0, 15.0, 14.5, 14.0, 13.0, 12.5, 12.0, 11.0, 10.5, 10.0, 9.0, 8.5, 8.0),
        (0.2, 0.2, 0.15, 0.2, 0.2, 0.15, 0.2, 0.2, 0.25, 0.2, 0.25, 0.25, 0.3, 0.3, 0.4),
        strict=True,
    )
)
CROSS = ((15.0, 0.2), (15.0, 0.2), (9.0, 0.1), *((14.0 - 0.5 * k, 0.2) for k in range(9)))
CASES = {
    "short": SHORT,
    "single": Case(discs=((15.0, 0.25),), clamp=6.0, port=(8.0, 13.0), pressures=(0.05, 0.2, 0.5)),
    "three": Case(
        discs=((16.0, 0.3), (14.0, 0.25), (11.0, 0.3)), clamp=6.0, port=(9.0, 13.5), pressures=(0.2, 0.6, 1.5)
    ),
    "ring": Case(discs=((14.0, 0.2), (7.0, 0.1), (14.0, 0.2), (12.0, 0.2)), pressures=(0.1, 0.3, 0.6)),
    "seated": Case(
        discs=((14.0, 0.2), (14.0, 0.2), (12.5, 0.15), (11.0, 0.2), (9.0, 0.3)),
        port=(8.0, 12.5),
        seat=(13.0, 0.08),
        pressures=(0.2, 0.6, 1.5),
    ),
    "clamps": Case(
        discs=((14.0, 0.2), (13.0, 0.2), (11.5, 0.15), (9.5, 0.25), (8.5, 0.3)),
        clamp=(5.0, 5.0, 5.5, 5.5, 6.0),
        pressures=(0.3, 1.0, 2.5),
        length=0.15,
        fine=0.03,
        stiffness=5e6,
    ),
    "washer": Case(
        discs=((14.0, 0.2), (13.0, 0.2), (12.0, 0.2)),
        washer=(11.0, 0.15),
        pressures=(0.2, 0.6, 1.5),
        length=0.15,
        fine=0.03,
        stiffness=5e6,
    ),
    "materials": Case(
        discs=((14.0, 0.25), (13.0, 0.25), (12.0, 0.2), (10.0, 0.3), (8.0, 0.3)),
        modulus=(STEEL, BRONZE, STEEL, BRONZE, STEEL),
        pressures=(0.3, 1.0, 2.5),
        length=0.15,
        fine=0.03,
        stiffness=5e6,
    ),
    "eight": Case(discs=EIGHT, pressures=(0.5, 1.0, 3.0)),
    "tapered": Case(
        discs=tuple((round(15.0 - 0.6 * k, 1), 0.2) for k in range(12)),
        pressures=(1.0, 4.0),
        length=0.2,
        fine=0.04,
        stiffness=3e6,
    ),
    "crossover": Case(discs=CROSS, pressures=(0.5, 2.0, 6.0), length=0.2, fine=0.04, stiffness=3e6),
    "fifteen": Case(
        discs=FIFTEEN, clamp=6.0, port=(9.0, 13.5), pressures=(2.0, 8.0), length=0.2, fine=0.04, stiffness=3e6
    ),
}


class _Deck:
    """Nodes, elements and sets of one case, and its input file."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.nodes: list[str] = []
        self.groups: dict[str, list[str]] = {}
        self.elements = 0
        self.tips: list[int] = []
        self.inner: list[list[int]] = []
        self.faces: list[tuple[list[int], list[int]]] = []
        #: ends [mm] and elements, from below, of the column whose stress is printed for each disc
        self.columns: list[tuple[float, float, list[int]]] = []
        self.blocks: dict[str, tuple[list[int], list[int]]] = {}
        lines, height = case.lines(), 0.0
        spaces = (*(case.gaps or (0.0,) * (len(case.discs) - 1)), 0.0)
        for k, (radius, thick) in enumerate(case.discs):
            x = lines[(lines >= case.clamps[k] - 1e-9) & (lines <= radius + 1e-9)]
            node, grid = self._mesh(f"D{k + 1}", x, height, thick, LAYERS)
            self.faces.append(([c[0] for c in grid], [c[-1] for c in grid]))
            self.tips.append(node[2 * len(x) - 2, LAYERS])
            self.inner.append([node[0, j] for j in range(2 * LAYERS + 1)])
            # one thickness from the clamp: the corner itself has no finite stress in a solid
            c = min(max(int(np.searchsorted(x, case.clamps[k] + thick)) - 1, 0), len(grid) - 1)
            self.columns.append((float(x[c]), float(x[c + 1]), grid[c]))
            height += thick + spaces[k]
        graded = np.cumsum([0.0, *(min(0.1, 0.02 + 0.01 * i) for i in range(60))])
        if case.seat:
            x = case.seat[0] + np.append(graded[graded < 0.38], 0.4)
            node, grid = self._mesh("SEAT", x, -0.3, 0.3, 1)
            self.blocks["SEAT"] = ([c[0] for c in grid], sorted(set(node.values())))
        if case.washer:
            wide = case.washer[0] - min(case.clamps[-1] + 0.2, case.washer[0] - 1.0)
            x = case.washer[0] - np.append(graded[graded < wide - 0.02], wide)[::-1]
            node, grid = self._mesh("WASHER", x, height + case.washer[1], 0.3, 1)
            self.blocks["WASHER"] = ([c[0] for c in grid], sorted(set(node.values())))

    def _mesh(
        self, name: str, x: Floats, height: float, thick: float, layers: int
    ) -> tuple[dict[tuple[int, int], int], list[list[int]]]:
        """Add a rectangle of elements; its nodes by half column and half row, its elements by column."""
        full = np.empty(2 * len(x) - 1)
        full[::2], full[1::2] = x, 0.5 * (x[1:] + x[:-1])
        node: dict[tuple[int, int], int] = {}
        for i, radius in enumerate(full):
            for j in range(2 * layers + 1):
                if not (i % 2 and j % 2):
                    node[i, j] = len(self.nodes) + 1
                    self.nodes.append(f"{node[i, j]}, {radius:.9f}, {height + thick * j / (2 * layers):.9f}, 0.")
        group = self.groups.setdefault(name, [])
        grid = []
        for c in range(len(x) - 1):
            grid.append([0] * layers)
            for layer in range(layers):
                self.elements += 1
                grid[-1][layer] = self.elements
                i, j = 2 * c, 2 * layer
                around = [(0, 0), (2, 0), (2, 2), (0, 2), (1, 0), (2, 1), (1, 2), (0, 1)]
                group.append(f"{self.elements}, " + ", ".join(str(node[i + a, j + b]) for a, b in around))
        return node, grid

    def text(self) -> str:
        """Input file: one step for the seat, one a pressure."""
        case, out = self.case, ["*NODE", *self.nodes]
        for name, lines in self.groups.items():
            out += [f"*ELEMENT, TYPE=CAX8R, ELSET={name}", *lines]
        sets = {f"IN{k}": nodes for k, nodes in enumerate(self.inner, 1)} | {"TIPS": self.tips}
        sets |= {f"N{name}": nodes for name, (_, nodes) in self.blocks.items()}
        for name, nodes in sets.items():
            out += [f"*NSET, NSET={name}", *(f"{n}," for n in nodes)]
        for k, (lower, upper) in enumerate(self.faces, 1):
            out += [f"*SURFACE, NAME=LOWER{k}, TYPE=ELEMENT", *(f"{e}, S1" for e in lower)]
            out += [f"*SURFACE, NAME=UPPER{k}, TYPE=ELEMENT", *(f"{e}, S3" for e in upper)]
        lines = case.lines()
        x = lines[lines >= case.clamps[0] - 1e-9]
        loaded = [
            e for e, a, b in zip(self.faces[0][0], x, x[1:], strict=False) if case.port[0] < (a + b) / 2 < case.port[1]
        ]
        out += ["*ELSET, ELSET=PORT", *(f"{e}," for e in loaded)]
        out += ["*ELSET, ELSET=ROOT", *(f"{e}," for *_, column in self.columns for e in column)]
        moduli = {f"D{k}": e for k, e in enumerate(case.moduli, 1)} | dict.fromkeys(self.blocks, STEEL)
        for name, modulus in moduli.items():
            out += [f"*MATERIAL, NAME=M{name}", "*ELASTIC", f"{modulus}, {POISSON}"]
            out += [f"*SOLID SECTION, ELSET={name}, MATERIAL=M{name}"]
        out += ["*SURFACE INTERACTION, NAME=TOUCH", "*SURFACE BEHAVIOR, PRESSURE-OVERCLOSURE=LINEAR"]
        out += [f"{case.stiffness}, 1.e-3, 1.e-5"]
        # the shorter face carries the contact points
        touching = [
            f"LOWER{j + 1}, UPPER{i + 1}" if case.discs[j][0] <= case.discs[i][0] else f"UPPER{i + 1}, LOWER{j + 1}"
            for i, j in case.pairs
        ]
        for name, face, partner in (("SEAT", "S3", "LOWER1"), ("WASHER", "S1", f"UPPER{len(case.discs)}")):
            if name in self.blocks:
                out += [f"*SURFACE, NAME=F{name}, TYPE=ELEMENT", *(f"{e}, {face}" for e in self.blocks[name][0])]
                inside = name == "SEAT" or (case.washer is not None and case.washer[0] <= case.discs[-1][0])
                touching.append(f"F{name}, {partner}" if inside else f"{partner}, F{name}")
        for pair in touching:
            out += ["*CONTACT PAIR, INTERACTION=TOUCH, TYPE=SURFACE TO SURFACE", pair]
        held = [name for name in sets if name != "TIPS"]
        out += ["*BOUNDARY", *(f"{name}, 1, 2" for name in held)]
        printed = ["*NODE PRINT, NSET=TIPS, FREQUENCY=1000", "U", "*EL PRINT, ELSET=ROOT, FREQUENCY=1000", "S"]
        for name in held:
            printed += [f"*NODE PRINT, NSET={name}, FREQUENCY=1000, TOTALS=ONLY", "RF"]
        loads = [["*BOUNDARY", f"NSEAT, 2, 2, {case.seat[1]}"]] if case.seat else []
        loads += [["*DLOAD", f"PORT, P1, {pressure}"] for pressure in case.pressures]
        for load in loads:
            out += ["*STEP, NLGEOM, INC=1000", "*STATIC", "0.34, 1., 1e-5, 0.5", *load, *printed, "*END STEP"]
        return "\n".join(out) + "\n"

    def _face_stress(
        self, column: tuple[float, float, list[int]], rows: dict[int, list[float]]
    ) -> tuple[float, float, float]:
        """Radius [mm], radial stress on the lower and upper face [MPa]: a line through the integration points."""
        a, b, elements = column
        at, stress = [], []
        for layer, element in enumerate(elements):
            for value, eta in zip(rows[element][:4], (-1.0, -1.0, 1.0, 1.0), strict=True):
                at.append((layer + 0.5 + 0.5 * eta / math.sqrt(3.0)) / len(elements) - 0.5)
                stress.append(value)
        slope, middle = np.polyfit(at, stress, 1)
        return 0.5 * (a + b), float(middle - 0.5 * slope), float(middle + 0.5 * slope)

    def read(self, text: str) -> list[Answer]:
        """States out of the printed results."""
        parts = re.split(r"\n *(displacements|total force|stresses)([^\n]*?)time +(\S+) *\n", text)
        found: dict[tuple[float, str], str] = {}
        for where, time, body in zip(parts[2::4], parts[3::4], parts[4::4], strict=True):
            name = re.search(r"set (\S+)", where)
            found[float(time), name.group(1) if name else ""] = body

        def force(step: int, name: str) -> float:
            # the solver turns an axisymmetric model into a wedge of two degrees
            return 180.0 * float(found[step, name].split()[1]) if (step, name) in found else 0.0

        pressures = ((0.0,) if self.case.seat else ()) + self.case.pressures
        out = []
        for step, pressure in enumerate(pressures, 1):
            if (step, "TIPS") not in found:
                raise RuntimeError(f"step {step} is missing")
            rows: dict[int, list[float]] = {}
            for line in found[step, "ROOT"].strip().splitlines():
                words = line.split()
                rows.setdefault(int(words[0]), []).append(float(words[2]))
            out.append(
                Answer(
                    pressure=pressure,
                    tips=[float(line.split()[2]) for line in found[step, "TIPS"].strip().splitlines()],
                    clamp=[force(step, f"IN{k}") for k in range(1, len(self.case.discs) + 1)],
                    seat=force(step, "NSEAT"),
                    washer=force(step, "NWASHER"),
                    root=[self._face_stress(column, rows) for column in self.columns],
                )
            )
        return out


def solve_solids(case: Case, program: str = "ccx") -> list[Answer]:
    """States of a case by the installed program: at rest where there is a seat, then at each pressure."""
    deck = _Deck(case)
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "stack.inp").write_text(deck.text())
        subprocess.run([program, "stack"], cwd=folder, capture_output=True, text=True, check=False)
        return deck.read(Path(folder, "stack.dat").read_text())


def main(names: list[str]) -> None:
    """Solve the named cases, or all, and store them."""
    program = shutil.which("ccx")
    if program is None:
        raise SystemExit("ccx is not installed")
    answer = subprocess.run([program, "-v"], capture_output=True, text=True, check=False).stdout
    version = "CalculiX " + answer.split()[-1]
    stored = json.loads(RESULTS.read_text())["states"] if RESULTS.exists() else {}
    for name in names or list(CASES):
        stored[name] = solve_solids(CASES[name], program)
        ordered = {key: stored[key] for key in CASES if key in stored}
        RESULTS.write_text(json.dumps({"program": version, "states": ordered}) + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
