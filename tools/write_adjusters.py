"""Write the table of adjusters in `docs/sweeps.md`: `python tools/write_adjusters.py`."""

from __future__ import annotations

from pathlib import Path

from tussock.studies.adjusters import ADJUSTERS, Adjuster
from tussock.studies.display import number

PAGE = Path(__file__).parents[1] / "docs" / "sweeps.md"
BEGIN, END = "<!-- generated: python tools/write_adjusters.py -->\n", "<!-- end of what is generated -->\n"


def reference() -> str:
    """Return every adjuster with its limits, as a Markdown table."""
    rows = [f"| `{key}` | {a.title} | {_limits(a)} | {_of(a)} |" for key, a in ADJUSTERS.items()]
    return "\n".join(["| adjuster | what | from, to | of |", "| --- | --- | --- | --- |", *rows, ""])


def _limits(a: Adjuster) -> str:
    rule = a.rule
    if rule.kind == "ratio":
        return f"{rule.least:g}, {rule.most:g} times as fitted"
    unit = {"length": "mm", "roll_rate": "N m/deg"}[rule.kind]
    return f"{number(rule.least, rule.kind)}, {number(rule.most, rule.kind)} {unit} added"


def _of(a: Adjuster) -> str:
    return {"kit": "the kit", "vehicle": "the vehicle, known only so well"}[a.rule.of]


def with_reference(page: str) -> str:
    """Return the page with its generated part written anew."""
    before, _, rest = page.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n{reference()}\n{END}{after}"


if __name__ == "__main__":
    PAGE.write_text(with_reference(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
