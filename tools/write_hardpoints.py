"""Write the generated part of `docs/programme.md`, hardpoints by layout: `python tools/write_hardpoints.py`."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from tussock.record.layouts import LAYOUTS, STEERINGS, Layout, central, ends, hardpoints, part_ends

PAGE = Path(__file__).parents[1] / "docs" / "programme.md"
BEGIN, END = "<!-- generated: python tools/write_hardpoints.py -->\n", "<!-- end of what is generated -->\n"


def reference() -> str:
    """Return every layout and steering with its hardpoints, as Markdown."""
    return "\n".join([*(_layout(name, table) for name, table in LAYOUTS.items()), *map(_steering, STEERINGS)])


def _layout(name: str, table: Layout) -> str:
    parts = {p for part in table.parts for p in (f"{part}_chassis", *part_ends(name, part))}
    steers = {p for kind in STEERINGS.values() for p in (*kind.required, *kind.optional)} - {*table.required}
    told = [
        point
        for point in hardpoints(name)
        if not point.endswith(("_right", "_link_axle", "_link_chassis")) and point not in {*steers, *parts}
    ]
    grouped = {p: group for group in table.groups for p in group}
    facts = [
        f"Bodies: {_code(table.bodies)}, beside the chassis.",
        f"Springs: {_code(table.springs)}.",
        f"Steering, where it steers: {_code(table.steerings)}"
        + (f"; where not, its tie rods are `{table.unsteered}`." if table.unsteered else "."),
        f"Each {' and '.join(table.parts)}: `<part>_chassis` and `<part>_{'` or `<part>_'.join(table.carriers)}`.",
    ]
    if table.joints:
        facts.append(
            f"Bushes: {_code(table.joints)}, {'rates needed' if table.bushes_needed else 'rigid where left out'}."
        )
    if table.balls:
        facts.append(f"Ball joints that a limiter may watch: {_code(table.balls)}.")
    if table.rods:
        facts.append(f"Rods: {_code(table.rods)}.")
    if table.links:
        more = f", at least {table.least_links}" if table.least_links else ""
        facts.append(f"Links: every pair `<name>_link_axle`, `<name>_link_chassis` makes one{more}.")
    rows = []
    for point in told:
        if point in table.required:
            need = "needed"
        elif point in grouped:
            need = "with " + _code(other for other in grouped[point] if other != point) + ", or neither"
        else:
            need = "may be given"
        side = "once" if point in central(name) else "left, mirrored"
        rows.append(f"| `{point}` | {need} | {side} | {_code(ends(name, point)) or '-'} |")
    head = [f"#### `{name}`", "", f"{table.words[:1].upper()}{table.words[1:]}.", "", *(f"- {fact}" for fact in facts)]
    table_head = ["", "| hardpoint | | stands | a kit may move it on |", "| --- | --- | --- | --- |"]
    return "\n".join([*head, *table_head, *rows, ""])


def _steering(name: str) -> str:
    table = STEERINGS[name]
    rows = [
        f"| `{point}` | {'needed' if point in table.required else 'may be given'} "
        f"| {'once' if point in table.central else 'left, mirrored'} |"
        for point in (*table.required, *table.optional)
    ]
    head = [f"#### Steering `{name}`", "", f"{table.words[:1].upper()}{table.words[1:]}; rods: {_code(table.rods)}."]
    return "\n".join([*head, "", "| hardpoint | | stands |", "| --- | --- | --- |", *rows, ""])


def _code(names: Iterable[str]) -> str:
    return ", ".join(f"`{name}`" for name in names)


def with_reference(page: str) -> str:
    """Return the page with its generated part written anew."""
    before, _, rest = page.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n{reference()}\n{END}{after}"


def main() -> None:
    """Write the page."""
    PAGE.write_text(with_reference(PAGE.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main()
