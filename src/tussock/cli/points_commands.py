"""Commands that drive many points: compare, sweep, sensitivity. What they do is in `points`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tussock.cli.commands import Against, AsJson, File, app, guarded

Sections = Annotated[
    list[str] | None, typer.Option("--section", metavar="NAME", help="Section of the loop; repeatable. Else all.")
]
Threads = Annotated[int, typer.Option("--threads", metavar="N", min=1, max=256, help="That drive at once.")]
Files = Annotated[
    Path | None, typer.Option("--out", metavar="DIR", help="Folder for its pictures, tables and data; else none.")
]


@app.command()
def compare(
    context: typer.Context,
    file: File,
    build: Annotated[
        list[str] | None, typer.Option("--build", metavar="NAME", help="Build; repeatable. Else all.")
    ] = None,
    fitout: Annotated[
        list[str] | None, typer.Option("--fitout", metavar="NAME", help="Fit-out; repeatable. Else the first.")
    ] = None,
    section: Sections = None,
    against: Against = None,
    roads: Annotated[
        int, typer.Option("--roads", metavar="N", help="How many times the random surfaces are drawn.")
    ] = 8,
    seed: Annotated[
        int | None, typer.Option("--seed", metavar="N", help="Of the first road; else the loop's own.")
    ] = None,
    confidence: Annotated[
        float, typer.Option("--confidence", metavar="SHARE", help="Of each interval, 0.5 to 0.999.")
    ] = 0.95,
    threads: Threads = 2,
    out: Files = None,
    as_json: AsJson = False,
) -> None:
    """Which build is better on these roads, and is the difference more than noise?

    Every build drives the same roads. Ends with 1 when the best cannot be told from the one compared with.
    """
    with guarded(context):
        from tussock.cli.points import run_points
        from tussock.studies import compare as study

        passes = run_points(
            file,
            "compare",
            study.QUESTION,
            lambda job, report: study.study(
                job,
                builds=build,
                fitouts=fitout,
                only=section,
                against=against,
                roads=roads,
                seed=seed,
                confidence=confidence,
                threads=threads,
                report=report,
            ),
            out=out,
            as_json=as_json,
        )
        raise typer.Exit(0 if passes else 1)
