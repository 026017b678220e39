"""Disc stacks as solids: input files for the open-source finite-element solver CalculiX, and what it answers.

``python tests/mechanics/dampers/stack/stack_decks.py`` solves all cases with an installed ``ccx`` (Debian package
calculix-ccx) and writes stack_solids.json beside this file. Quadratic axisymmetric solids with reduced integration
(CAX8R), large deflection on, two element layers a disc, elements 0.1 mm long, frictionless surface-to-surface penalty
contact of 1e6 MPa/mm, all nodes of the inner edge held, pressure on the lower face. All stacks are invented.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

from tussock.mechanics.dampers.stack import Disc, Material, Port, Stack

MODULUS, POISSON, PENALTY, LENGTH, LAYERS = 206000.0, 0.3, 1.0e6, 0.1, 2
RESULTS = Path(__file__).with_name("stack_solids.json")


@dataclass(frozen=True, kw_only=True)
class Case:
    """Discs as (radius, thickness) [mm], port radii [mm], pressures [MPa], pairs in contact (1-based)."""

    discs: tuple[tuple[float, float], ...]
    pressures: tuple[float, ...]
    clamp: float = 5.0
    port: tuple[float, float] = (8.0, 12.0)
    extra_pairs: tuple[tuple[int, int], ...] = ()

    @property
    def pairs(self) -> tuple[tuple[int, int], ...]:
        """Neighbours, and discs that meet past a ring."""
        return (*((k, k + 1) for k in range(1, len(self.discs))), *self.extra_pairs)

    def stack(self) -> Stack:
        """The same as plates."""
        steel = Material(
            youngs_modulus=MODULUS * 1e6, poisson_ratio=POISSON, density=7850.0, fatigue_strength=800e6
        )  # fmt: skip
        return Stack(
            discs=tuple(Disc(radius=r * 1e-3, thickness=t * 1e-3, material=steel) for r, t in self.discs),
            clamp_radius=self.clamp * 1e-3,
            ports=(Port(inner=self.port[0] * 1e-3, outer=self.port[1] * 1e-3),),
        )


CASES = {
    "two": Case(discs=((14.0, 0.2), (11.0, 0.2)), pressures=(0.05, 0.1, 0.2)),
    "four": Case(discs=((14.0, 0.2), (13.0, 0.2), (11.0, 0.15), (9.0, 0.25)), pressures=(0.15, 0.3, 0.6)),
    "eight": Case(
        discs=((14.0, 0.2), (14.0, 0.2), (13.0, 0.2), (12.0, 0.15), (11.0, 0.2), (10.0, 0.2), (9.0, 0.2), (8.0, 0.3)),
        pressures=(0.5, 1.0, 2.0),
    ),
    "ring": Case(
        discs=((14.0, 0.2), (7.0, 0.1), (14.0, 0.2), (12.0, 0.2)), pressures=(0.1, 0.3, 0.6), extra_pairs=((1, 3),)
    ),
}


def deck(case: Case) -> str:
    """Input file of a case: one step a pressure; prints the deflection of each rim's middle node."""
    lines = ["*NODE"]
    elements, faces, tips, inner = [], [], [], []
    rows = 2 * LAYERS
    base, number, height = 0, 0, 0.0
    for radius, thick in case.discs:
        count = round((radius - case.clamp) / LENGTH)
        columns = 2 * count + 1
        node = {}
        for i in range(columns):
            for j in range(rows + 1):
                if i % 2 and j % 2:
                    continue
                base += 1
                node[i, j] = base
                lines.append(
                    f"{base}, {case.clamp + (radius - case.clamp) * i / (2 * count):.9f}, "
                    f"{height + thick * j / rows:.9f}, 0."
                )
        lower, upper = [], []
        for c in range(count):
            for layer in range(LAYERS):
                number += 1
                i, j = 2 * c, 2 * layer
                corner = [node[i, j], node[i + 2, j], node[i + 2, j + 2], node[i, j + 2]]
                middle = [node[i + 1, j], node[i + 2, j + 1], node[i + 1, j + 2], node[i, j + 1]]
                elements.append(f"{number}, " + ", ".join(map(str, corner + middle)))
                if layer == 0:
                    lower.append(number)
                if layer == LAYERS - 1:
                    upper.append(number)
        faces.append((lower, upper))
        tips.append(node[columns - 1, rows // 2])
        inner += [node[0, j] for j in range(rows + 1)]
        height += thick
    lines += ["*ELEMENT, TYPE=CAX8R, ELSET=ALL", *elements]
    lines += ["*NSET, NSET=INNER", *(f"{n}," for n in inner), "*NSET, NSET=TIPS", *(f"{n}," for n in tips)]
    for k, (lower, upper) in enumerate(faces, 1):
        lines += [f"*SURFACE, NAME=LOWER{k}, TYPE=ELEMENT", *(f"{e}, S1" for e in lower)]
        lines += [f"*SURFACE, NAME=UPPER{k}, TYPE=ELEMENT", *(f"{e}, S3" for e in upper)]
    loaded = [
        e
        for c, e in enumerate(faces[0][0])
        if case.port[0] - 1e-6 < case.clamp + (c + 0.5) * LENGTH < case.port[1] + 1e-6
    ]
    lines += ["*ELSET, ELSET=PORT", *(f"{e}," for e in loaded)]
    lines += ["*MATERIAL, NAME=STEEL", "*ELASTIC", f"{MODULUS}, {POISSON}", "*SOLID SECTION, ELSET=ALL, MATERIAL=STEEL"]
    lines += ["*SURFACE INTERACTION, NAME=TOUCH", "*SURFACE BEHAVIOR, PRESSURE-OVERCLOSURE=LINEAR"]
    lines += [f"{PENALTY}, 1.e-2, 1.e-5"]
    for one, two in case.pairs:
        # the smaller disc carries the contact points
        pair = (
            f"LOWER{two}, UPPER{one}" if case.discs[two - 1][0] <= case.discs[one - 1][0] else f"UPPER{one}, LOWER{two}"
        )
        lines += ["*CONTACT PAIR, INTERACTION=TOUCH, TYPE=SURFACE TO SURFACE", pair]
    lines += ["*BOUNDARY", "INNER, 1, 2"]
    for pressure in case.pressures:
        lines += ["*STEP, NLGEOM, INC=1000", "*STATIC", "0.1, 1., 1e-5, 0.25", "*DLOAD", f"PORT, P1, {pressure}"]
        lines += ["*NODE PRINT, NSET=TIPS, FREQUENCY=1000", "U", "*END STEP"]
    return "\n".join(lines) + "\n"


def solve_solids(case: Case, program: str = "ccx") -> list[list[float]]:
    """Deflection of each disc's rim [mm] at each pressure, by the installed program."""
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "stack.inp").write_text(deck(case))
        run = subprocess.run([program, "stack"], cwd=folder, capture_output=True, text=True, check=False)
        text = Path(folder, "stack.dat").read_text()
    blocks = re.split(r"displacements.*?time\s+(\S+)", text)[1:]
    at = {float(time): block for time, block in zip(blocks[::2], blocks[1::2], strict=True)}
    found = []
    for step in range(1, len(case.pressures) + 1):
        if float(step) not in at:
            raise RuntimeError(f"step {step} is missing: {run.stdout[-600:]}")
        rows = [line.split() for line in at[float(step)].strip().splitlines()]
        found.append([float(row[2]) for row in rows])
    return found


def main() -> None:
    """Solve all cases and store them."""
    program = shutil.which("ccx")
    if program is None:
        raise SystemExit("ccx is not installed")
    version = subprocess.run([program, "-v"], capture_output=True, text=True, check=False).stdout.strip()
    table = {name: solve_solids(case, program) for name, case in CASES.items()}
    RESULTS.write_text(json.dumps({"program": version, "rim_deflection_mm": table}, indent=1) + "\n")


if __name__ == "__main__":
    main()
