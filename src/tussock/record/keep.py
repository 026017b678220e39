"""Keep a file beside a programme by its content: its name begins with its hash, so that a change is noticed."""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from contextlib import suppress
from pathlib import Path

from tussock.errors import InputError
from tussock.record.attached import kept_name


def keep_file(folder: str | Path, file: str | Path) -> str:
    """Copy a file into the programme's folder under its content's hash.

    Parameters
    ----------
    folder : str or pathlib.Path
        The folder of the programme.
    file : str or pathlib.Path
        The photo, logger file or anything else; it stays where it is.

    Returns
    -------
    str
        Its path as the programme writes it. The same content under the same name is kept once.

    Raises
    ------
    InputError
        The file cannot be read, or the folder not written.
    """
    file, folder = Path(file), Path(folder)
    if not file.is_file():
        raise InputError(f"{file}: there is no such file to attach")
    try:
        with file.open("rb") as stream:
            written = kept_name(file.name, hashlib.file_digest(stream, "sha256").hexdigest())
        place = folder / written
        if place.is_file():
            return written
        place.parent.mkdir(exist_ok=True)
        handle, part = tempfile.mkstemp(dir=place.parent, prefix=".", suffix=".part")
        os.close(handle)
        try:
            shutil.copyfile(file, part)
            os.replace(part, place)
        except OSError:
            with suppress(OSError):
                os.unlink(part)
            raise
    except OSError as error:
        raise InputError(f"{file}: cannot be attached: {error.strerror}") from None
    return written
