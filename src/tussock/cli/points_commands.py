"""Commands that drive many points: advise, compare, robust, sweep, sensitivity. What they do is in `points`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tussock.cli.commands import Against, AsJson, Build, File, Fitout, app, guarded

if TYPE_CHECKING:
    from tussock.studies.job import Job
    from tussock.studies.point_runs import Report
    from tussock.studies.result import Result

Sections = Annotated[
    list[str] | None, typer.Option("--section", metavar="NAME", help="Section of the loop; repeatable. Else all.")
]
Threads = Annotated[int, typer.Option("--threads", metavar="N", min=1, max=256, help="That drive at once.")]
Files = Annotated[
    Path | None, typer.Option("--out", metavar="DIR", help="Folder for its pictures, tables and data; else none.")
]


Vary = Annotated[
    list[str] | None,
    typer.Option("--vary", metavar="NAME:RANGE", help="Such as 'front_rebound: 0.7 to 1.4'; repeatable."),
]
Cluster = Annotated[
    str, typer.Option("--cluster", metavar="ADDRESS", help="Dask scheduler, such as tcp://10.0.0.5:8786; else here.")
]
Results = Annotated[
    Path | None, typer.Option("--results", metavar="FILE", help="Keeps every finished point; else none.")
]
Kept = Annotated[
    Path | None,
    typer.Option("--results", metavar="DIR", help="Keeps what was driven and goes on with it; else nothing is kept."),
]
Resume = Annotated[bool, typer.Option("--resume", help="Go on with the file of results.")]


@app.command()
def advise(
    context: typer.Context,
    file: File,
    fitout: Fitout = None,
    build: Annotated[
        str | None, typer.Option("--build", metavar="NAME", help="Build around which to look; else the last.")
    ] = None,
    points: Annotated[int, typer.Option("--points", metavar="N", help="Settings to simulate.")] = 260,
    seed: Annotated[int, typer.Option("--seed", metavar="N", min=0, help="Of the settings and the candidates.")] = 1,
    threads: Threads = 2,
    results: Kept = None,
    out: Files = None,
    as_json: AsJson = False,
) -> None:
    """What do we build and drive next, and how sure is that?

    Weighs the log's verdicts and marks against the simulation of builds around one. Ctrl-C keeps finished settings in
    the folder of results; the same question goes on there.
    """
    with guarded(context):
        from tussock.cli.points import run_points
        from tussock.cli.work import report_date
        from tussock.studies import advise as study
        from tussock.studies.advise_kept import keep

        def ask(job: Job, report: Report) -> Result:
            result = study.study(
                job,
                fitout=fitout,
                build=build,
                count=points,
                seed=seed,
                results=results,
                threads=threads,
                report=report,
            )
            if results is not None:
                keep(result, results, asked=report_date(None).isoformat())
            return result

        run_points(
            file,
            "advise",
            study.QUESTION,
            ask,
            out=out,
            as_json=as_json,
        )


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


@app.command()
def robust(
    context: typer.Context,
    file: File,
    fitout: Fitout = None,
    build: Annotated[str | None, typer.Option("--build", metavar="NAME", help="Else the best balanced.")] = None,
    count: Annotated[int, typer.Option("--count", metavar="N", help="Vehicles drawn over all causes.")] = 48,
    each: Annotated[int, typer.Option("--each", metavar="N", help="Vehicles drawn for each cause alone.")] = 12,
    front: Annotated[int, typer.Option("--front", metavar="N", help="Settings of the adjusters for the front.")] = 48,
    seed: Annotated[int, typer.Option("--seed", metavar="N", min=0, help="Of every draw.")] = 1,
    threads: Threads = 2,
    results: Kept = None,
    out: Files = None,
    as_json: AsJson = False,
) -> None:
    """Does the chosen build stay better than stock in every vehicle that leaves the works, and what gives way?

    Draws production, fit-outs, tyre pressures and oil temperature. Ends with 1 when fewer than 95 of 100 stay better
    controlled than stock.
    """
    with guarded(context):
        from tussock.cli.points import run_points
        from tussock.studies import robust as study

        passes = run_points(
            file,
            "robust",
            study.QUESTION,
            lambda job, report: study.study(
                job,
                fitout=fitout,
                build=build,
                count=count,
                each=each,
                front=front,
                seed=seed,
                threads=threads,
                results=results,
                report=report,
            ),
            out=out,
            as_json=as_json,
        )
        raise typer.Exit(0 if passes else 1)


@app.command()
def sweep(
    context: typer.Context,
    file: File,
    vary: Vary = None,
    design: Annotated[
        str,
        typer.Option("--design", metavar="NAME", help="latin (hypercube), grid, or one (adjuster at a time)."),
    ] = "latin",
    points: Annotated[int, typer.Option("--points", metavar="N", help="Of a Latin hypercube.")] = 64,
    levels: Annotated[int, typer.Option("--levels", metavar="N", help="Values of each adjuster, of the others.")] = 5,
    seed: Annotated[int, typer.Option("--seed", metavar="N", min=0, help="Of the hypercube.")] = 1,
    fitout: Fitout = None,
    build: Build = None,
    against: Against = None,
    section: Sections = None,
    threads: Threads = 2,
    cluster: Cluster = "",
    results: Results = None,
    resume: Resume = False,
    out: Files = None,
    as_json: AsJson = False,
) -> None:
    """What do the adjusters do to comfort and control, and which settings are worth building?

    Where nothing is named, damping and springs of both axles are varied. Ctrl-C keeps finished points in the file.
    """
    with guarded(context):
        from tussock.cli.points import how_of, run_points
        from tussock.studies import sweep as study
        from tussock.studies.designs import parse_range

        how = how_of(threads=threads, cluster=cluster, file=results, resume=resume)
        ranges = [parse_range(text) for text in vary or ()]
        passes = run_points(
            file,
            "sweep",
            study.QUESTION,
            lambda job, report: study.study(
                job,
                ranges=ranges,
                design=design,
                count=points,
                levels=levels,
                seed=seed,
                fitout=fitout,
                build=build,
                against=against,
                only=section,
                how=how,
                report=report,
            ),
            out=out,
            as_json=as_json,
        )
        raise typer.Exit(0 if passes else 1)


@app.command()
def sensitivity(
    context: typer.Context,
    file: File,
    vary: Vary = None,
    method: Annotated[
        str, typer.Option("--method", metavar="NAME", help="morris (effects) or sobol (variance; many more points).")
    ] = "morris",
    samples: Annotated[
        int | None,
        typer.Option("--samples", metavar="N", help="Trajectories, else 10; of sobol a power of two, else 64."),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", metavar="N", min=0, help="Of the points and the intervals.")] = 1,
    confidence: Annotated[
        float, typer.Option("--confidence", metavar="SHARE", help="Of each interval, 0.5 to 0.999.")
    ] = 0.95,
    fitout: Fitout = None,
    build: Build = None,
    against: Against = None,
    section: Sections = None,
    threads: Threads = 2,
    cluster: Cluster = "",
    results: Results = None,
    resume: Resume = False,
    out: Files = None,
    as_json: AsJson = False,
) -> None:
    """Which adjuster or uncertain figure moves which measure?

    Where nothing is named, the kit's adjusters and what is known of the vehicle only so well are varied.
    """
    with guarded(context):
        from tussock.cli.points import how_of, run_points
        from tussock.studies import sensitivity as study
        from tussock.studies.designs import parse_range

        how = how_of(threads=threads, cluster=cluster, file=results, resume=resume)
        ranges = [parse_range(text) for text in vary or ()]
        passes = run_points(
            file,
            "sensitivity",
            study.QUESTION,
            lambda job, report: study.study(
                job,
                ranges=ranges,
                method=method,
                samples=samples,
                seed=seed,
                confidence=confidence,
                fitout=fitout,
                build=build,
                against=against,
                only=section,
                how=how,
                report=report,
            ),
            out=out,
            as_json=as_json,
        )
        raise typer.Exit(0 if passes else 1)
