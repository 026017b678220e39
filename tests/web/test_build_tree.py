"""The tree of builds as a page shows it: nested below the parent, with changes, drives and verdicts."""

from __future__ import annotations

from importlib.resources import as_file, files

from tussock.studies import log
from tussock.studies.job import open_job
from tussock.studies.result import Column, Table
from tussock.web.build_tree import tree_html


def test_every_build_of_the_demo_stands_in_the_tree_with_what_changed() -> None:
    with as_file(files("tussock") / "data" / "tarn") as folder:
        job = open_job(folder / "programme.yaml")
    result = log.study(job)
    html = tree_html(result.table("build_tree"), result.table("verdicts"))
    for name in job.programme.builds:
        assert html.count(f"<li><b>{name}</b>") == 1
    before = {name: html[: html.index(f"<b>{name}</b>")] for name in job.programme.builds}
    depth = {name: text.count("<ul>") - text.count("</ul>") for name, text in before.items()}
    for name, build in job.programme.builds.items():
        assert depth[name] == (depth[build.parent] + 1 if build.parent in depth else 2)
    assert "better" in html


def test_what_people_wrote_never_becomes_markup() -> None:
    keys = ("build", "title", "parent", "changes", "drives")
    table = Table(
        key="build_tree",
        title="Builds",
        columns=tuple(Column(key=k, title=k) for k in keys),
        rows=(("B1", "<script>", "stock", "<b>", 0), ("· B2", "", "B1", "springs", 2)),
    )
    html = tree_html(table)
    assert "<script>" not in html
    assert "&lt;script&gt;" in html
    assert "not driven" in html
    assert "driven 2 times" in html
