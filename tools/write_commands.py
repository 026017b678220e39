"""Write the generated part of `docs/commands.md`: `python tools/write_commands.py`.

Between the two markers stands what the commands themselves say: help, arguments, options. With `--calls` the worked
calls of this page and of `docs/programme.md` are run again in the folder that `tussock demo` wrote (`--in
out/tarn/programme`), to which the files of `docs/examples` are copied: each keeps as many lines of its output as it
shows now. Runs that take minutes (`demo`, `release`) are run again only where they are named; what serves, or works on
the user's own store, never is.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

from typer.main import get_command

from tussock.cli import app

DOCS = Path(__file__).parents[1] / "docs"
PAGE = DOCS / "commands.md"
BEGIN, END = "<!-- generated: python tools/write_commands.py -->\n", "<!-- end of what is generated -->\n"
CALL = re.compile(r"```console\n\$ (?P<call>[^\n]+)\n(?P<shown>.*?)```\n", re.DOTALL)
MORE = "…"
LONG = ("demo", "release")
STANDING = ("serve", "user", "backup", "restore")
WIDTH = 100


def commands() -> dict[str, Any]:
    """Return every command by name, in the order of the help; those of a group behind the group's name."""
    found: dict[str, Any] = {}
    for name, command in get_command(app).commands.items():
        inner = getattr(command, "commands", None)
        found |= {name: command} if inner is None else {f"{name} {own}": c for own, c in inner.items()}
    return found


def reference() -> str:
    """Return what the commands say of themselves, as Markdown."""
    parts = []
    for name, command in commands().items():
        arguments = [p for p in command.params if p.param_type_name == "argument"]
        options = [p for p in command.params if p.param_type_name == "option" and not p.hidden]
        usage = " ".join(["tussock", name, *(a.metavar for a in arguments), *(["[options]"] if options else [])])
        lines = [f"### `{name}`", "", " ".join((command.help or "").split()), "", f"    {usage}", ""]
        rows = [(f"`{a.metavar}`", _sentence(a)) for a in arguments]
        rows += [(f"`{_spelling(o)}`", _sentence(o)) for o in options]
        if rows:
            lines += ["| | |", "| --- | --- |", *(f"| {left} | {right} |" for left, right in rows), ""]
        parts.append("\n".join(lines))
    return "\n".join(parts)


def _spelling(option: Any) -> str:
    return ", ".join(option.opts) + ("" if option.is_flag else f" {option.metavar or 'NUMBER'}")


def _sentence(param: Any) -> str:
    text = " ".join((param.help or "").split()).replace("|", "\\|")
    if param.param_type_name == "option":
        if param.required:
            return f"{text} Needed."
        if param.default not in (None, False, "", (), []):
            return f"{text} Else `{param.default}`."
    return text


def with_reference(page: str) -> str:
    """Return the page with its generated part written anew."""
    before, _, rest = page.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n{reference()}\n{END}{after}"


def with_calls(page: str, folder: Path, only: list[str]) -> str:
    """Return the page with its worked calls (those of some commands if named) run again in a folder."""
    for example in (DOCS / "examples").iterdir():
        shutil.copy(example, folder)
    plain = {**os.environ, "COLUMNS": str(WIDTH), "NO_COLOR": "1"}

    def again(found: re.Match[str]) -> str:
        call, shown = found["call"], found["shown"].splitlines()
        name = call.split()[1]
        if name in STANDING or (only and name not in only) or (not only and name in LONG):
            return found[0]
        ran = subprocess.run(call, shell=True, cwd=folder, env=plain, capture_output=True, text=True, check=False)
        lines = [line.rstrip() for line in (ran.stdout or ran.stderr).strip().splitlines()]
        cut = shown[-1:] == [MORE] and len(lines) > len(shown)
        kept = [*lines[: len(shown) - 1], MORE] if cut else lines
        return "\n".join(["```console", f"$ {call}", *kept, "```", ""])

    return CALL.sub(again, page)


def main() -> None:
    """Write the page."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--calls", nargs="*", metavar="COMMAND", help="run the worked calls again, all or these")
    parser.add_argument("--in", dest="folder", type=Path, default=Path("out/tarn/programme"))
    asked = parser.parse_args()
    PAGE.write_text(with_reference(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
    if asked.calls is not None:
        for path in (PAGE, DOCS / "programme.md"):
            page = with_calls(path.read_text(encoding="utf-8"), asked.folder, asked.calls)
            path.write_text(page, encoding="utf-8")


if __name__ == "__main__":
    main()
