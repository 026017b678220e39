"""The adviser's answer as it was kept: what the stage tuning and the report show of it, without asking anew.

`tussock advise --results DIR` writes one small JSON file for each fit-out and build beside the settings that it keeps.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from tussock.errors import InputError
from tussock.studies.result import Cell, Column, Result, Table

FORMAT, VERSION = "tussock-advice", 1
_PREFIX = "advice-"
HOW = (
    "not asked; `tussock advise PROGRAMME --results DIR` asks (minutes), then `--results DIR` here, or page Next build"
)


@dataclass(frozen=True, kw_only=True)
class KeptAdvice:
    """An answer of the adviser.

    Attributes
    ----------
    answer : str
    asked : str
        When, or of which version, in words.
    fitout, build : str
        For which drives, and around which build.
    digest : str
        Of the programme that was asked about.
    """

    answer: str
    asked: str
    fitout: str
    build: str
    digest: str


def kept_of(result: Result, *, asked: str) -> KeptAdvice:
    """Return what is kept of a result of `advise`."""
    from_ = result.provenance
    return KeptAdvice(answer=result.answer, asked=asked, fitout=from_.fitout, build=from_.build, digest=from_.digest)


def keep(result: Result, folder: Path, *, asked: str) -> Path:
    """Write a result of `advise` into the folder of its settings, in place of an earlier one, and return the file.

    Raises
    ------
    InputError
        If the file cannot be written.
    """
    kept = kept_of(result, asked=asked)
    path = folder / f"{_PREFIX}{_slug(kept.fitout)}-{_slug(kept.build)}.json"
    content = {"format": FORMAT, "version": VERSION, **asdict(kept)}
    try:
        path.write_text(json.dumps(content, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    except OSError as error:
        raise InputError(f"cannot keep the answer in {path}: {error.strerror}") from error
    return path


def _slug(name: str) -> str:
    return "".join(c if c.isalnum() or c in "._-" else "_" for c in name)


def read_kept(folder: Path) -> tuple[KeptAdvice, ...]:
    """Return every answer that a folder keeps, by file name.

    Raises
    ------
    InputError
        If there is no such folder, or a file in it is none of this kind; says which.
    """
    if not folder.is_dir():
        raise InputError(f"there is no folder {folder}; name the one that `tussock advise --results` has filled")
    found: list[KeptAdvice] = []
    for path in sorted(folder.glob(f"{_PREFIX}*.json")):
        try:
            content = json.loads(path.read_text(encoding="utf-8"))
            kind, version = content.pop("format"), content.pop("version")
            answer = KeptAdvice(**content) if (kind, version) == (FORMAT, VERSION) else None
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            kind, version, answer = "", 0, None
        if answer is None:
            raise InputError(
                f"{path} is of format version {version}, this program reads {VERSION}; ask `tussock advise` again"
                if kind == FORMAT
                else f"{path} is no answer of `tussock advise`; delete it and ask again"
            )
        found.append(answer)
    return tuple(found)


def with_advice(results: Sequence[Result], kept: Sequence[KeptAdvice]) -> tuple[Result, ...]:
    """Return the results, the one of the stage tuning with what the adviser said in its fit-out, or how to ask it."""
    return tuple(_beside(r, [k for k in kept if k.fitout == r.provenance.fitout]) for r in results)


def _beside(result: Result, kept: Sequence[KeptAdvice]) -> Result:
    if result.stage != "tuning":
        return result
    if not kept:
        return replace(result, inputs={**result.inputs, "adviser": HOW})
    rows: list[tuple[Cell, ...]] = [
        (k.asked, "as it stands" if k.digest == result.provenance.digest else "an earlier state", k.build, k.answer)
        for k in sorted(kept, key=lambda k: (k.digest != result.provenance.digest, k.build))
    ]
    table = Table(
        key="advice",
        title="What the adviser said to drive next",
        columns=(
            Column(key="asked", title="Asked"),
            Column(key="of", title="Of the programme"),
            Column(key="build", title="Around"),
            Column(key="answer", title="Answer"),
        ),
        rows=tuple(rows),
        note="as kept; an answer of an earlier state does not know what was changed or driven since",
    )
    return replace(result, tables=(*result.tables[:1], table, *result.tables[1:]))


__all__ = ["HOW", "KeptAdvice", "keep", "kept_of", "read_kept", "with_advice"]
