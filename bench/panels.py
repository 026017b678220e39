"""Simulated panels: does the adviser save drives? Hidden vehicles and drivers, every method on each, then a table.

Run with ``python bench/panels.py --panels 200 --seed 1 --drives 40 --out panels.jsonl`` (some twenty minutes on two
quiet cores). What the file holds is not run again, so that a stopped run goes on; ``--print`` writes the table of what
is there. Panels of seeds from 100000 up are for development; the report is on seeds from 1.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from panel import run, table
from panel.taste import NOISE


def main() -> None:
    """Run the panels and print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--panels", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1, help="of the first panel; the others follow it")
    parser.add_argument("--drives", type=int, default=40, help="of the adviser")
    parser.add_argument("--longer", type=int, default=80, help="drives of the other methods")
    parser.add_argument("--error", type=float, default=0.5, help="size of the model error; 1 doubles the usual one")
    parser.add_argument("--noise", choices=list(NOISE), default="middle", help="of the drivers")
    parser.add_argument("--methods", nargs="+", choices=list(run.METHODS), default=list(run.METHODS), metavar="METHOD")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--out", type=Path, default=Path("panels.jsonl"))
    parser.add_argument("--cache", type=Path, default=Path(tempfile.gettempdir()) / "tussock-panels",
                        help="folder that keeps what the simulation computed once")  # fmt: skip
    parser.add_argument("--print", action="store_true", help="only write the table of what the file holds")
    told = parser.parse_args()
    asked = run.Asked(drives=told.drives, longer=told.longer, error=told.error, noise=told.noise)
    if not told.print:
        seeds = range(told.seed, told.seed + told.panels)
        run.run(told.out, seeds, told.methods, asked, folder=told.cache, processes=told.processes)
    lines = table.sorted_lines(run.lines_of(told.out), error=told.error, noise=told.noise)
    print(*table.write(lines, drives=told.drives), sep="\n")


if __name__ == "__main__":
    main()
