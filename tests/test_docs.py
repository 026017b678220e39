"""The pages say what the program does: commands, hardpoints, examples, links."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path
from types import ModuleType

import pytest
from typer.main import get_command

from tussock.cli import app
from tussock.record import json_schema
from tussock.record.layouts import LAYOUTS, STEERINGS, hardpoints
from tussock.studies.job import open_job
from tussock.studies.valving_batch import read_batch

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
PAGES = sorted([*ROOT.glob("*.md"), *DOCS.rglob("*.md")])
GROUPS = {name: g.commands for name, g in get_command(app).commands.items() if hasattr(g, "commands")}
COMMANDS = {name: c for name, c in get_command(app).commands.items() if name not in GROUPS} | {
    f"{group} {name}": command for group, inner in GROUPS.items() for name, command in inner.items()
}


def _tool(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, ROOT / "tools" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _read(path: Path) -> str:
    return path.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("tool", "page"),
    [("write_commands", "commands.md"), ("write_hardpoints", "programme.md"), ("write_adjusters", "sweeps.md")],
)
def test_generated_part_is_up_to_date(tool: str, page: str) -> None:
    written = _read(DOCS / page)
    again = f"{page} is old: run python tools/{tool}.py"
    assert written == _tool(tool).with_reference(written), again


def test_fields_of_a_programme_are_up_to_date() -> None:
    old = "programme-fields.md is old: run python tools/write_fields.py"
    assert _read(DOCS / "programme-fields.md") == _tool("write_fields").page(), old


def test_every_command_stands_in_the_page_with_its_help_and_options() -> None:
    """Read from the page apart from the tool that writes it."""
    whole = _read(DOCS / "commands.md")
    parts = {m[1]: m[2] for m in re.finditer(r"^### `([\w -]+)`\n(.*?)(?=^### |\Z)", whole, re.DOTALL | re.MULTILINE)}
    assert list(parts) == list(COMMANDS)
    for name, command in COMMANDS.items():
        assert command.help.splitlines()[0] in parts[name], name
        for param in command.params:
            for word in param.opts if param.param_type_name == "option" else [param.metavar]:
                assert f"`{word}" in parts[name], (name, word)
        assert f"```console\n$ tussock {name}" in whole, f"no worked call of {name}"


def test_no_page_names_a_command_that_does_not_exist() -> None:
    named = {
        (path.name, found[1])
        for path in PAGES
        if path.name != "CHANGELOG.md"
        for found in re.finditer(r"(?<![\w/.-])(?:\.venv/bin/)?tussock ([a-z][a-z-]+)", _read(path))
    }
    assert len(named) > len(COMMANDS)
    assert {n for n in named if n[1] not in COMMANDS and n[1] not in GROUPS} == set()


def test_options_in_worked_calls_exist() -> None:
    call = re.compile(r"^(?:\$ | {4}\.venv/bin/)tussock ([a-z][a-z-]+)([^\n#]*)", re.MULTILINE)
    for path in PAGES:
        for name, rest in call.findall(_read(path)):
            if name in GROUPS:
                name = f"{name} {rest.split()[0]}"
            own = {word for param in COMMANDS[name].params for word in param.opts}
            assert set(re.findall(r"(?<!\S)--[a-z-]+", rest)) <= own, (path.name, name)


def test_every_hardpoint_of_every_layout_stands_in_the_page() -> None:
    page = _read(DOCS / "programme.md")
    parts = {
        m[1]: m[2] for m in re.finditer(r"^#### (?:Steering )?`(\w+)`\n(.*?)(?=^#### |\Z)", page, re.DOTALL | re.M)
    }
    assert set(parts) == {*LAYOUTS, *STEERINGS}
    for name, table in LAYOUTS.items():
        assert all(f"`{point}`" in parts[name] for point in (*table.required, *table.optional)), name
        told = set(re.findall(r"^\| `(\w+)`", parts[name], re.MULTILINE))
        assert told <= set(hardpoints(name)), told - set(hardpoints(name))
    for name, own in STEERINGS.items():
        assert set(re.findall(r"^\| `(\w+)`", parts[name], re.MULTILINE)) == {*own.required, *own.optional}


def test_every_kind_of_spring_limiter_and_obstacle_stands_in_the_page() -> None:
    page = _read(DOCS / "programme.md")
    parts = json_schema()["$defs"].values()
    kinds = {part["properties"]["kind"].get("const") for part in parts if "kind" in part.get("properties", {})} - {None}
    assert len(kinds) > 20
    assert {kind for kind in kinds if f"`{kind}`" not in page} == set()


def test_examples_are_good() -> None:
    job = open_job(DOCS / "examples" / "tarn-small.yaml")
    assert job.programme.programme.data == "invented"
    assert job.setup().build == "B1"
    assert len(read_batch(_read(DOCS / "examples" / "batch.csv"), name="batch.csv").serials) >= 2


def _anchor(heading: str) -> str:
    return re.sub(r"[^\w\- ]", "", heading.strip().lower()).replace(" ", "-")


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_links_lead_somewhere(page: Path) -> None:
    text = re.sub(r"```.*?```", "", _read(page), flags=re.DOTALL)
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        if re.match(r"[a-z]+:", target):
            continue
        place, _, anchor = target.partition("#")
        path = (page.parent / place).resolve() if place else page
        assert path.exists(), f"{page.name} links to {target}"
        assert path.is_relative_to(ROOT)
        if anchor:
            headings = {_anchor(h) for h in re.findall(r"^#+ (.+)$", _read(path), re.MULTILINE)}
            assert anchor in headings, f"{page.name} links to {target}"


def test_every_page_is_reached_from_the_readme() -> None:
    reached, ahead = set(), [ROOT / "README.md"]
    while ahead:
        page = ahead.pop()
        if page in reached:
            continue
        reached.add(page)
        for target in re.findall(r"\]\(([^)\s#]+\.md)(?:#[^)]*)?\)", _read(page)):
            if not re.match(r"[a-z]+:", target):
                ahead.append((page.parent / target).resolve())
    assert set(DOCS.rglob("*.md")) <= reached


def test_every_outside_check_stands_in_the_table() -> None:
    """Files of checks against sources, and those that mark or run an outside check among others."""
    page = _read(DOCS / "validation.md")
    asked = [
        path
        for path in sorted((ROOT / "tests").rglob("test_*.py"))
        if path != Path(__file__)
        and (path.stem.endswith(("_literature", "_outside")) or re.search(r"mark\.literature|mark\.ccx", _read(path)))
    ]
    assert len(asked) > 25
    left_out = [p.relative_to(ROOT).as_posix() for p in asked if p.relative_to(ROOT).as_posix() not in page]
    assert left_out == [], "add what they check, against what and how near, to docs/validation.md"


def test_python_files_named_in_the_pages_exist() -> None:
    for page in PAGES:
        if page.name == "CHANGELOG.md":
            continue
        for name in re.findall(r"(?<![\w*/])((?:src|tests|tools|bench)/[\w/]+\.py)", _read(page)):
            assert (ROOT / name).is_file(), f"{page.name} names {name}"
