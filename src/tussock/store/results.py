"""Results that were computed, kept by the hash of all that went into them: text, files, study, setup and program."""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import TYPE_CHECKING, Any

from sqlalchemy import delete, or_

import tussock
from tussock.store.engine import Database
from tussock.store.tables import ResultRow, put_once
from tussock.store.versions import Version
from tussock.store.workplace import content_key

if TYPE_CHECKING:
    from tussock.studies.result import Result

NEWEST = 5
"""Versions of a programme whose results are kept; those of older ones are dropped when a new one comes in."""
_CODE = (".py", ".yaml", ".json", ".csv")


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What a result answers: a study of a version, with its options."""

    version: Version
    study: str
    key: str


class Results:
    """The cache of results."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def question(self, version: Version, study: str, setup: Mapping[str, Any] | None = None) -> Question:
        """Return what a result is kept by.

        Parameters
        ----------
        version : Version
            The programme as it was read.
        study : str
            Name of the study.
        setup : mapping, optional
            Everything else that moves the result (fit-out, build, options); plain values.
        """
        what = {
            "content": content_key(version.digest, version.files),
            "study": study,
            "setup": dict(setup or {}),
            "code": code_digest(),
        }
        text = json.dumps(what, sort_keys=True, ensure_ascii=False)
        return Question(version=version, study=study, key=hashlib.sha256(text.encode()).hexdigest())

    def get(self, question: Question) -> Result | None:
        """Return the result that is kept for a question, or None; a result of other inputs is never returned."""
        with self._database.reading() as session:
            row = session.get(ResultRow, question.key)
            if row is None:
                return None
            content = row.content
        return _read(content)

    def put(self, question: Question, result: Result) -> None:
        """Keep a result, and drop those of older versions and of other programs."""
        content = zlib.compress(json.dumps(asdict(result), ensure_ascii=False).encode(), 6)
        version, now = question.version, datetime.now(UTC)
        with self._database.writing() as session:
            session.execute(
                delete(ResultRow).where(
                    ResultRow.programme_id == version.programme_id,
                    or_(ResultRow.number <= version.number - NEWEST, ResultRow.code != code_digest()),
                )
            )
            put_once(
                session,
                ResultRow,
                key=question.key,
                programme_id=version.programme_id,
                number=version.number,
                study=question.study,
                code=code_digest(),
                created=now,
                content=content,
            )


def _read(content: bytes) -> Result:
    return _adapter().validate_python(json.loads(zlib.decompress(content)))  # type: ignore[no-any-return]


@cache
def _adapter() -> Any:
    from pydantic import TypeAdapter

    from tussock.studies.result import Result

    return TypeAdapter(Result)


@cache
def code_digest() -> str:
    """Return the SHA-256 of the program itself, rule tables and demo included: what computes is an input too."""
    content = hashlib.sha256(tussock.__version__.encode())

    def take(folder: Traversable, path: str) -> None:
        for part in sorted(folder.iterdir(), key=lambda p: p.name):
            if part.is_dir():
                if part.name != "__pycache__":
                    take(part, f"{path}/{part.name}")
            elif part.name.endswith(_CODE):
                content.update(f"{path}/{part.name}".encode())
                content.update(part.read_bytes())

    for package in ("record", "mechanics", "studies"):
        take(files("tussock") / package, package)
    for part in sorted((files("tussock") / "data").iterdir(), key=lambda p: p.name):
        if part.is_file() and part.name.endswith(_CODE):
            content.update(part.read_bytes())
    return content.hexdigest()
