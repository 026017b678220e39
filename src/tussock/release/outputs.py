"""Results as data: one JSON file, one CSV for each table, one SVG for each picture, written whole or not at all."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from tussock.errors import InputError
from tussock.release.figures import picture_svg
from tussock.release.look import LIGHT, Look
from tussock.release.words import cell_text, column_title
from tussock.studies.result import Result, Table

FORMAT = 1  # version of results.json


def results_json(results: Sequence[Result]) -> str:
    """Return all results as one JSON document, numbers in SI, each with its unit.

    The keys ``format`` (version of this layout), ``tussock`` (version of the tool) and ``results`` are always there.
    """
    document = {
        "format": FORMAT,
        "tussock": results[0].provenance.tussock if results else "",
        "results": [result.as_json() for result in results],
    }
    return json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def table_csv(table: Table) -> str:
    """Return a table as comma-separated text, in the units that people read, said in the header.

    Numbers carry a plain minus sign and a decimal point, whatever the language of the machine, so that any
    spreadsheet reads them; an empty cell means that there is no value.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")  # RFC 4180, section 2: lines end with CRLF
    writer.writerow([column_title(c, bracket=True) for c in table.columns])
    for row in table.rows:
        writer.writerow([cell_text(v, c, plain=True) for v, c in zip(row, table.columns, strict=True)])
    return out.getvalue()


def write_outputs(results: Sequence[Result], folder: Path, *, look: Look = LIGHT) -> tuple[Path, ...]:
    """Write ``results.json``, ``tables/*.csv`` and ``pictures/*.svg`` into a folder.

    Everything is made first and then moved into place, so that a failure leaves no half-written file; what an earlier
    run left under the same names is replaced.

    Parameters
    ----------
    results : sequence of Result
        What to write.
    folder : Path
        Where to; made if it does not exist, but its parent must.
    look : Look
        Colours of the pictures.

    Returns
    -------
    tuple of Path
        Files written, in order.

    Raises
    ------
    InputError
        If the folder cannot be made or written.
    """
    written: dict[str, str] = {"results.json": results_json(results)}
    for result in results:
        for table in result.tables:
            written[f"tables/{file_stem(result.stage, table.key)}.csv"] = table_csv(table)
        for picture in result.pictures:
            written[f"pictures/{file_stem(result.stage, picture.key)}.svg"] = picture_svg(picture, look=look)
    with staged(folder) as stage:
        for name, text in written.items():
            path = stage / name
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(text.encode())
    return tuple(folder / name for name in written)


def file_stem(stage: str, key: str) -> str:
    """Return a file name that any system takes.

    >>> file_stem("travel", "Front / left")
    'travel-front-left'
    """
    return re.sub(r"[^a-z0-9_]+", "-", f"{stage}-{key}".lower()).strip("-")


@contextmanager
def staged(folder: Path) -> Iterator[Path]:
    """Give a temporary folder beside `folder`; when the block ends well its files move into `folder`.

    Raises
    ------
    InputError
        If the folder cannot be made or written, or if `folder` is a file.
    """
    if not folder.parent.is_dir():
        raise InputError(f"cannot write to {folder}: the folder {folder.parent} does not exist; make it first")
    if folder.exists() and not folder.is_dir():
        raise InputError(f"cannot write to {folder}: it is a file; name a folder")
    try:
        folder.mkdir(exist_ok=True)
        stage = Path(tempfile.mkdtemp(prefix=".writing-", dir=folder))
    except OSError as error:
        raise InputError(f"cannot write to {folder}: {error.strerror}; choose a folder that may be written") from error
    try:
        yield stage
        for path in sorted(p for p in stage.rglob("*") if p.is_file()):
            target = folder / path.relative_to(stage)
            target.parent.mkdir(parents=True, exist_ok=True)
            os.replace(path, target)
    except OSError as error:
        raise InputError(f"cannot write to {folder}: {error.strerror} ({error.filename})") from error
    finally:
        shutil.rmtree(stage, ignore_errors=True)
