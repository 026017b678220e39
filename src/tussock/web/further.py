"""Further inputs of studies as rows of data: what is asked, what may be chosen, and how the text becomes an argument.

What every page follows (fit-out, build, against) stands in the bar; what one study asks besides stands under its
question, in the address, and in the key of its result.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any, TypeAlias

from tussock.errors import InputError
from tussock.studies.job import ENDS, Job

if TYPE_CHECKING:
    from tussock.store import Store, Version

LONGEST = 1000  # characters of one further input


@dataclass(frozen=True, kw_only=True, slots=True)
class Option:
    """Something that may be chosen: its key in the address, its words, and what the study is told (else the key)."""

    key: str
    words: str = ""
    value: str = ""


Options: TypeAlias = Callable[["Store", "Version", Job], Sequence[Option]]
Reader: TypeAlias = Callable[[Job, str], Any]


def as_written(job: Job, text: str) -> str:
    """Return what was written."""
    return text


@dataclass(frozen=True, kw_only=True, slots=True)
class Further:
    """One further input of a study.

    Attributes
    ----------
    name, title : str
        In addresses and as the study's keyword; for people.
    options : callable, optional
        What may be chosen; typed freely without.
    first : bool
        Whether the first option counts where none is chosen. Without, it must be chosen.
    default : str
        What counts where nothing is said; "" leaves it to the study.
    hint : str
        How it is written, or what is left out means.
    none : str
        What to do where there is nothing to choose from.
    lines : bool
        Whether several may be written, one a line.
    read : callable
        Takes the job and the text, returns what the study takes; InputError for a text that it cannot read.
    """

    name: str
    title: str
    options: Options | None = None
    first: bool = True
    default: str = ""
    hint: str = ""
    none: str = ""
    lines: bool = False
    read: Reader = as_written

    def chosen(self, text: str | None, options: Sequence[Option]) -> Option | None:
        """Return what counts, or None where the study's own default does.

        Raises
        ------
        InputError
            A text too long, an option that there is not, or none chosen that must be.
        """
        text = self.default if text is None else text.strip()
        if len(text) > LONGEST:
            raise InputError(f"{self.title.lower()}: at most {LONGEST} characters")
        if self.options is None:
            return Option(key=text, value=text) if text else None
        found = next((o for o in options if o.key == text), None)
        if found is not None:
            return found
        if text:
            raise InputError(f"there is no {self.title.lower()} {text[:60]!r}; choose one of those offered")
        if not options:
            raise InputError(f"there is no {self.title.lower()} to choose: {self.none}")
        if not self.first:
            raise InputError(f"choose the {self.title.lower()} above")
        return options[0]


def words(*pairs: tuple[str, str]) -> Options:
    """Return options that are always the same, as key and words."""
    fixed = tuple(Option(key=key, words=said) for key, said in pairs)
    return lambda store, version, job: fixed


def any_of(title: str, options: Options) -> Options:
    """Return options with one before them that leaves the choice open."""
    return lambda store, version, job: (Option(key="", words=title), *options(store, version, job))


def sections(store: Store, version: Version, job: Job) -> Sequence[Option]:
    """Return the sections of the road loop."""
    return tuple(Option(key=s.name) for s in job.programme.road_loop.sections)


def axles(store: Store, version: Version, job: Job) -> Sequence[Option]:
    """Return both axles."""
    return tuple(Option(key=end) for end in ENDS)


def built_dampers(store: Store, version: Version, job: Job) -> Sequence[Option]:
    """Return the kit's dampers whose insides are known."""
    from tussock.studies.damper_builds import is_buildable

    return tuple(
        Option(key=name, words=f"{name}, {damper.title}" if damper.title else name)
        for name, damper in job.programme.kit.dampers.items()
        if is_buildable(damper)
    )


def dampers(store: Store, version: Version, job: Job) -> Sequence[Option]:
    """Return every damper, the stock ones too."""
    from tussock.studies.dyno_references import damper_names

    return tuple(Option(key=name) for name in damper_names(job))


def _files(version: Version, kinds: Sequence[str]) -> list[str]:
    return [path for path in version.files if PurePosixPath(path).suffix.lower() in kinds]


def dyno_files(store: Store, version: Version, job: Job) -> Sequence[Option]:
    """Return the files that may be a dyno's: those which the programme reads as such, then other tables."""
    named = [path for path in job.loaded.files if path in version.files]
    return tuple(
        Option(key=path) for path in (*named, *(p for p in _files(version, (".csv", ".mf4")) if p not in named))
    )


def other_tables(store: Store, version: Version, job: Job) -> Sequence[Option]:
    """Return the tables that the programme does not read itself."""
    read = {*job.loaded.files, *job.loaded.roads}
    return tuple(Option(key=path) for path in _files(version, (".csv",)) if path not in read)


def other_programmes(store: Store, version: Version, job: Job) -> Sequence[Option]:
    """Return the other programmes of the store at their newest version; the study is told where each lies."""
    return tuple(
        Option(
            key=f"{entry.id}.{entry.newest.number}",
            words=f"{entry.name}, {entry.title}",
            value=str(store.programmes.programme(entry.newest).path),
        )
        for entry in store.programmes.list()
        if entry.id != version.programme_id
    )


def attached_text(job: Job, path: str) -> tuple[str, str]:
    """Return content and name of an attached table."""
    try:
        return job.loaded.file(path).read_text(encoding="utf-8-sig"), PurePosixPath(path).name
    except UnicodeDecodeError:
        raise InputError(f"{path} is no text in UTF-8; save it as UTF-8 and attach it again") from None


def earlier_job(job: Job, path: str) -> Job:
    """Open another programme."""
    from tussock.studies.job import open_job

    return open_job(path)


def whole(least: int, most: int) -> Reader:
    """Return a reader of whole numbers between two ends."""

    def read(job: Job, text: str) -> int:
        if not text.isdecimal() or not least <= int(text) <= most:
            raise InputError(f"{text[:40]!r} is no whole number from {least} to {most}")
        return int(text)

    return read


def measure(dimension: str, example: str) -> Reader:
    """Return a reader of a quantity with its unit, in SI."""

    def read(job: Job, text: str) -> float:
        from tussock.record.units import QuantityError, parse

        try:
            return parse(text, dimension, example=example).si
        except QuantityError as error:
            raise InputError(str(error)) from None

    return read


def split_lines(job: Job, text: str) -> tuple[str, ...]:
    """Return what stands on each line."""
    return tuple(line.strip() for line in text.splitlines() if line.strip())


def ranges(job: Job, text: str) -> tuple[Any, ...]:
    """Return the ranges of adjusters, one a line."""
    from tussock.studies.designs import parse_range

    return tuple(parse_range(line) for line in split_lines(job, text))


def arguments(rows: Sequence[Further], job: Job, told: Mapping[str, str]) -> dict[str, Any]:
    """Return a study's keywords from what was told; InputError that names the input that cannot be read."""
    found: dict[str, Any] = {}
    for row in rows:
        if row.name in told:
            try:
                found[row.name] = row.read(job, told[row.name])
            except InputError as error:
                raise InputError(f"{row.title}: {error}") from None
    return found
