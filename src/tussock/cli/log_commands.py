"""Commands of the log, `tussock log show`, `drive` and others, and `tussock windows`, which reads it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tussock.cli.commands import AsJson, Build, File, Fitout, app, guarded

log = typer.Typer(
    name="log",
    help="The log of builds, dyno runs, drives and notes. Entries are added to the programme file, never changed.",
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)

Day = Annotated[str | None, typer.Option("--date", metavar="YYYY-MM-DD", help="When; else today.")]
Name = Annotated[str | None, typer.Option("--name", metavar="NAME", help="What it is called; else the next free name.")]
By = Annotated[str, typer.Option("--by", metavar="WHO", help="Who says so.")]
Why = Annotated[str, typer.Option("--why", metavar="WORDS", help="What was wrong with it.")]
Files = Annotated[
    list[Path] | None,
    typer.Option("--file", metavar="PATH", help="Photo or other file, copied and kept by its content. Repeatable."),
]
Note = Annotated[str, typer.Option("--note", metavar="WORDS", help="Anything worth knowing.")]
Pressure = Annotated[
    str | None, typer.Option("--pressure", metavar="FRONT,REAR", help="Cold tyres, such as '2.4 bar, 2.6 bar'.")
]
Entry = Annotated[str, typer.Argument(metavar="ENTRY", help="Build or entry that was wrong.", show_default=False)]


def _axle(option: str, metavar: str, what: str) -> object:
    return typer.Option(option, metavar=metavar, help=f"{what} Repeatable.")


@log.command()
def show(context: typer.Context, file: File, as_json: AsJson = False) -> None:
    """What has been built, driven and found? The log as it counts now, corrections applied."""
    with guarded(context):
        from tussock.cli.log_work import run_show

        run_show(file, as_json=as_json)


@log.command()
def scales(context: typer.Context) -> None:
    """What do drivers judge, and what do the marks from 1 to 10 mean?"""
    with guarded(context):
        from tussock.cli.log_work import run_scales

        run_scales()


@log.command()
def build(
    context: typer.Context,
    file: File,
    title: Annotated[str, typer.Option("--title", metavar="WORDS", help="What people call it.")],
    parent: Annotated[str, typer.Option("--from", metavar="BUILD", help="Build that it was changed from, or stock.")],
    dampers: Annotated[list[str] | None, _axle("--damper", "AXLE=NAME", "Damper of the kit: front=front_b.")] = None,
    springs: Annotated[list[str] | None, _axle("--spring", "AXLE=NAME", "Spring of the kit: rear=rear_main.")] = None,
    bars: Annotated[list[str] | None, _axle("--bar", "AXLE=RATE", "Bar: 'front=300 N m/deg'.")] = None,
    spacers: Annotated[list[str] | None, _axle("--stop-spacer", "AXLE=HEIGHT", "'rear=20 mm'.")] = None,
    packers: Annotated[list[str] | None, typer.Option("--packer", metavar="NAME", help="Packer. Repeatable.")] = None,
    pressure: Pressure = None,
    date: Day = None,
    by: Annotated[str | None, typer.Option("--by", metavar="WHO", help="Who fitted it.")] = None,
    note: Note = "",
    name: Name = None,
) -> None:
    """Add a build: what was changed from another one. What is left out stays as that has it."""
    with guarded(context):
        from tussock.cli import log_work as work

        per_axle = {
            "dampers": dampers or (),
            "springs": springs or (),
            "bars": bars or (),
            "stop_spacers": spacers or (),
        }
        entry = work.build_entry(
            title=title, parent=parent, per_axle=per_axle, packers=packers or (), pressure=pressure,
            date=work.day(date), by=by, note=note,
        )  # fmt: skip
        work.add(file, "builds", entry, name=name)


@log.command()
def dyno(
    context: typer.Context,
    file: File,
    build: Annotated[str, typer.Option("--build", metavar="NAME", help="Build whose damper ran, or stock.")],
    axle: Annotated[str, typer.Option("--axle", metavar="NAME", help="front or rear.")],
    sweep: Annotated[str, typer.Option("--sweep", metavar="PATH", help="The file, from the programme's folder.")],
    unit: Annotated[str | None, typer.Option("--unit", metavar="WORDS", help="Which of its dampers.")] = None,
    date: Day = None,
    by: Annotated[str | None, typer.Option("--by", metavar="WHO", help="Who ran it.")] = None,
    note: Note = "",
    name: Name = None,
) -> None:
    """Add a dyno run of a build's damper."""
    with guarded(context):
        from tussock.cli import log_work as work

        entry = work.given(date=work.day(date), build=build, axle=axle, unit=unit, dyno=sweep, by=by, note=note)
        work.add(file, "dyno_runs", entry, name=name)


@log.command()
def drive(
    context: typer.Context,
    file: File,
    build: Annotated[str, typer.Option("--build", metavar="NAME", help="Build driven, or stock.")],
    driver: Annotated[str, typer.Option("--driver", metavar="WHO", help="Who drove.")],
    fitout: Annotated[str, typer.Option("--fitout", metavar="NAME", help="Fit-out driven.")],
    against: Annotated[
        str | None, typer.Option("--against", metavar="NAME", help="Build that it is compared with, or stock.")
    ] = None,
    section: Annotated[
        str | None, typer.Option("--section", metavar="NAME", help="Section driven; else the whole loop.")
    ] = None,
    verdicts: Annotated[
        list[str] | None,
        typer.Option(
            "--verdict",
            metavar="VERDICT",
            help="'moor road: body float: slightly better'; section and attribute may be left out. Repeatable.",
        ),
    ] = None,
    marks: Annotated[
        list[str] | None,
        typer.Option("--mark", metavar="MARK", help="'body float: 7', 1 to 10 as `log scales` says. Repeatable."),
    ] = None,
    pressure: Pressure = None,
    weather: Annotated[str, typer.Option("--weather", metavar="WORDS", help="Dry, wet, wind, temperature.")] = "",
    date: Day = None,
    note: Note = "",
    files: Files = None,
    name: Name = None,
) -> None:
    """Add a drive with its verdicts and marks."""
    with guarded(context):
        from tussock.cli import log_work as work

        entry = work.drive_entry(
            file, date=work.day(date), driver=driver, build=build, against=against, fitout=fitout, section=section,
            pressure=pressure, weather=weather, verdicts=verdicts or (), marks=marks or (), note=note,
        )  # fmt: skip
        work.add(file, "drives", entry, name=name, files=files or ())


@log.command()
def note(
    context: typer.Context,
    file: File,
    text: Annotated[str, typer.Option("--text", metavar="WORDS", help="What there is to say.")],
    by: By,
    about: Annotated[str | None, typer.Option("--about", metavar="ENTRY", help="Build or entry meant.")] = None,
    date: Day = None,
    files: Files = None,
    name: Name = None,
) -> None:
    """Add a free note, with photos or other files."""
    with guarded(context):
        from tussock.cli import log_work as work

        entry = work.given(date=work.day(date), by=by, about=about, text=text)
        work.add(file, "notes", entry, name=name, files=files or ())


@log.command()
def decide(
    context: typer.Context,
    file: File,
    text: Annotated[str, typer.Option("--text", metavar="WORDS", help="What was decided and why.")],
    by: By,
    date: Day = None,
    name: Name = None,
) -> None:
    """Add a decision."""
    with guarded(context):
        from tussock.cli import log_work as work

        work.add(file, "decisions", work.given(date=work.day(date), text=text, by=by), name=name)


@log.command()
def correct(
    context: typer.Context,
    file: File,
    entry: Entry,
    by: By,
    why: Why,
    sets: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="FIELD=VALUE", help="As it should be: fitout=winch. Repeatable."),
    ] = None,
    left_out: Annotated[
        list[str] | None, typer.Option("--leave-out", metavar="FIELD", help="Should not be there. Repeatable.")
    ] = None,
    date: Day = None,
    name: Name = None,
) -> None:
    """Say what an entry should have said; the entry stays as it was written."""
    with guarded(context):
        from tussock.cli import log_work as work

        fields = work.corrected_fields(sets or (), left_out or ())
        made = {"date": work.day(date), "by": by, "corrects": entry, "fields": fields, "why": why}
        work.add(file, "corrections", made, name=name)


@log.command()
def withdraw(
    context: typer.Context, file: File, entry: Entry, by: By, why: Why, date: Day = None, name: Name = None
) -> None:
    """Say that an entry does not count; the entry stays as it was written."""
    with guarded(context):
        from tussock.cli import log_work as work

        made = {"date": work.day(date), "by": by, "corrects": entry, "withdrawn": True, "why": why}
        work.add(file, "corrections", made, name=name)


@app.command()
def windows(
    context: typer.Context,
    file: File,
    fitout: Fitout = None,
    build: Build = None,
    attribute: Annotated[
        str, typer.Option("--attribute", metavar="NAME", help="In what respect, as `log scales` lists them.")
    ] = "overall",
    section: Annotated[
        str | None, typer.Option("--section", metavar="NAME", help="Section of the loop; else all.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Which window do the drives leave each adjuster, and which drive would narrow it most?"""
    with guarded(context):
        from tussock.cli.work import run_study
        from tussock.studies import windows as study

        run_study(
            file,
            "Windows",
            study.QUESTION,
            lambda job: study.study(job, fitout=fitout, build=build, attribute=attribute, section=section),
            as_json=as_json,
        )
