"""What the log commands do: read the programme, add one entry to its file, say what was written."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from rich.text import Text

from tussock.cli.show import console, show_result
from tussock.cli.work import open_programme, report_date, write_json
from tussock.errors import InputError
from tussock.record import Loaded, load, save
from tussock.record.append import with_entry
from tussock.record.corrections import WORDS
from tussock.record.keep import keep_file
from tussock.record.scales import SCALES
from tussock.studies import log, log_words

PRESSURE = "2.4 bar, 2.6 bar"


def run_show(file: Path, *, as_json: bool) -> None:
    """Show the whole log as it counts now."""
    result = log.study(open_programme(file))
    if as_json:
        write_json(result.as_json())
    else:
        show_result(console(), result)


def run_scales() -> None:
    """Write what drivers judge and what the marks mean."""
    out = console()
    for scale in SCALES.values():
        out.print(Text(f"{scale.title}: {scale.asks}", style="bold"))
        for mark, words in scale.anchors.items():
            out.print(Text(f"  {mark:>2}  {words}"))
        out.print()
    out.print(Text("An even mark lies between its neighbours; 10 leaves nothing to wish.", style="dim"))


def add(file: Path, part: str, entry: dict[str, Any], *, name: str | None = None, files: Sequence[Path] = ()) -> None:
    """Add one entry to the file, attach its files, and say what was written."""
    before = _open(file)
    if files:
        # tried without its files first, so that a wrong entry leaves no copies behind
        with_entry(before, part, entry, name=name)
        entry = {**entry, "files": [keep_file(file.parent, f) for f in files]}
    after = with_entry(before, part, entry, name=name)
    save(after, file, over=before)
    _say(before, after, part)


def _open(file: Path) -> Loaded:
    if file.is_dir() or not file.exists():
        open_programme(file)  # says which file is meant
    return load(file)


def _say(before: Loaded, after: Loaded, part: str) -> None:
    """Say which entry was written, where, and every line of it."""
    old, new = before.text.splitlines(), after.text.splitlines()
    first = next((i for i, (a, b) in enumerate(zip(old, new, strict=False)) if a != b), len(old))
    count = len(new) - len(old)
    if first < len(old) and not new[first].startswith((" ", "-")):
        first, count = first + 1, count  # the line with the part's own name lost its []
    lines = new[first : first + count]
    out = console()
    out.print(Text(f"● {WORDS[part]} written to {after.name}, line {first + 1}:", style="bold"), soft_wrap=True)
    for line in lines:
        out.print(Text(line), soft_wrap=True)


def day(text: str | None) -> str:
    """Return a day for an entry: given, else today."""
    found: datetime.date = report_date(text)
    return found.isoformat()


def given(**fields: Any) -> dict[str, Any]:
    """Return the fields of an entry that say anything."""
    return {key: value for key, value in fields.items() if value not in (None, "", [], {}, ())}


def drive_entry(
    file: Path,
    *,
    verdicts: Sequence[str],
    marks: Sequence[str],
    pressure: str | None,
    **fields: Any,
) -> dict[str, Any]:
    """Return the fields of a drive from what was typed."""
    programme = _open(file).programme
    return given(
        **fields,
        tyre_pressure=None if pressure is None else log_words.read_pair(pressure, "tyre pressure", PRESSURE),
        verdicts=[log_words.read_verdict(programme, text) for text in verdicts],
        ratings=[log_words.read_mark(programme, text) for text in marks],
    )


def build_entry(
    *, per_axle: Mapping[str, Sequence[str]], packers: Sequence[str], pressure: str | None, **fields: Any
) -> dict[str, Any]:
    """Return the fields of a build from what was typed."""
    bars = log_words.read_axles(per_axle["bars"], "roll rate", "front=300 N m/deg")
    return given(
        **fields,
        **{
            p: log_words.read_axles(t, p[:-1].replace("_", " "), "front=NAME")
            for p, t in per_axle.items()
            if p != "bars"
        },
        bars={axle: {"roll_rate": rate} for axle, rate in bars.items()},
        packers=list(packers),
        tyre_pressure=None if pressure is None else log_words.read_pair(pressure, "tyre pressure", PRESSURE),
    )


def corrected_fields(sets: Sequence[str], left_out: Sequence[str]) -> dict[str, Any]:
    """Return the fields of a correction from what was typed; InputError if it would change nothing."""
    read: Callable[[str], tuple[str, Any]] = log_words.read_field
    fields = dict(read(text) for text in sets) | dict.fromkeys(left_out)
    if not fields:
        raise InputError("say what should stand there: --set fitout=winch, or --leave-out note; else withdraw it")
    return fields
