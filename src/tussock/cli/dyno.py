"""What `tussock dyno` does: read sweeps, hold them against something, show and write. Imports the heavy parts."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from rich.text import Text

from tussock.cli.progress import reporting
from tussock.cli.show import console, show_result
from tussock.cli.work import open_programme, ready_folder, write_json
from tussock.errors import InputError
from tussock.mechanics.dampers import DynoError, DynoTest, read_file
from tussock.studies.dyno import Reference, study


def run_dyno(
    files: Sequence[Path],
    *,
    against: Path | None,
    programme: Path | None,
    damper: str | None,
    channels: Sequence[str],
    rate: float | None,
    cutoff: float | None,
    split: bool,
    out: Path | None,
    as_json: bool,
) -> bool:
    """Read every file, compare, show; return whether all forces lie within the production band."""
    mapping = channel_mapping(channels)
    if (programme is None) != (damper is None):
        raise InputError("--programme and --damper go together: a programme file, and the name of a damper in it")
    folder = None if out is None else ready_folder(out, "dyno")
    with reporting() as progress:
        progress.start("Dyno: reading the sweeps")
        every = [*files, *([against] if against is not None else [])]
        tests = read_all(every, channels=mapping, rate=rate, cutoff=cutoff, split=split)
        references: list[Reference] = []
        if against is not None:
            references.append(Reference(title=tests[-1].name, unit=tests.pop()))
        if programme is not None and damper is not None:
            from tussock.studies.dyno_references import references as of_programme

            progress.start(f"Dyno: what {programme.name} says of {damper}")
            references += of_programme(open_programme(programme), damper, temperature=tests[0].mean_temperature)
        settings = {f"channel {key}": title for key, title in mapping.items()}
        if rate is not None:
            settings["sampling rate"] = f"{rate:g} Hz"
        result = study(tests, references=references, settings=settings, digest=digest_of(every))
    if folder is not None:
        from tussock.release.outputs import write_outputs

        written = write_outputs([result], folder)
    if as_json:
        write_json(result.as_json())
        return result.passes
    show_result(console(), result)
    if folder is not None:
        console().print(Text(f"\n{len(written)} files in {folder}"), soft_wrap=True)
    return result.passes


def channel_mapping(written: Sequence[str]) -> dict[str, str]:
    """Return title by channel from NAME=TITLE words.

    >>> channel_mapping(["force=cell 2 [kN]"])
    {'force': 'cell 2 [kN]'}
    """
    found: dict[str, str] = {}
    for word in written:
        key, sign, title = word.partition("=")
        key = key.strip().lower()
        if not sign or not key or not title.strip():
            raise InputError(f"--channel {word!r}: write NAME=TITLE, such as --channel 'force=cell 2 [kN]'")
        if key in found:
            raise InputError(f"--channel names {key} twice: {found[key]!r} and {title.strip()!r}")
        found[key] = title.strip()
    return found


def read_all(
    files: Sequence[Path], *, channels: dict[str, str], rate: float | None, cutoff: float | None, split: bool
) -> list[DynoTest]:
    """Return every file's test under a name of its own; InputError with all that is wrong in all of them."""
    tests: list[DynoTest] = []
    problems: list[str] = []
    for path in files:
        try:
            tests.append(read_file(path, channels=channels, rate=rate, cutoff=cutoff, split=split))
        except DynoError as error:
            problems.append(str(error))
    if problems:
        raise InputError("\n".join(problems))
    names = [t.name for t in tests]
    if len(set(names)) == len(names):
        return tests
    # files of one name in several folders are told apart by their paths
    return [renamed(test, str(path)) for test, path in zip(tests, files, strict=True)]


def renamed(test: DynoTest, name: str) -> DynoTest:
    """Return a test under another name."""
    return replace(test, name=name, curve=replace(test.curve, name=name))


def digest_of(files: Sequence[Path]) -> str:
    """Return the SHA-256 over all files in order, hexadecimal."""
    total = hashlib.sha256()
    for path in files:
        total.update(hashlib.sha256(path.read_bytes()).digest())
    return total.hexdigest()
