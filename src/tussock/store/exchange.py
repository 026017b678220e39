"""Programmes into the store and out of it: a file with what lies beside it, or a ZIP archive of both."""

from __future__ import annotations

import mimetypes
import stat
import zipfile
from collections.abc import Mapping
from pathlib import Path, PurePosixPath
from typing import IO, BinaryIO

from tussock.errors import InputError
from tussock.record import load
from tussock.record.attached import named_files
from tussock.record.load import LARGEST as LARGEST_TEXT
from tussock.store.files import LARGEST, PIECE
from tussock.store.store import Store
from tussock.store.versions import Version
from tussock.store.workplace import NAME

MOST_FILES = 2000
MOST_UNPACKED = 2_000_000_000
"""Bytes that an archive may unpack to; a small archive can hold far more than a disk."""
_FIXED = (1980, 1, 1, 0, 0, 0)  # equal content gives equal bytes


def take_folder(store: Store, path: Path, *, author: str, note: str = "") -> Version:
    """Take a programme file and the files that it names into the store, as a new programme.

    Raises
    ------
    ProgrammeError
        With everything that is wrong in the file and in what it names.
    """
    loaded = load(path)
    kept: dict[str, str] = {}
    for written in sorted(set(loaded.programme.files().values()) | set(loaded.hashes)):
        with loaded.file(written).open("rb") as stream:
            kept[written] = store.files.attach(stream, written, media_type(written)).digest
    return store.programmes.create(loaded.text, author=author, note=note, files=kept)


def media_type(name: str) -> str:
    """Return the media type that a file's name says, or that of unknown bytes.

    >>> media_type("dyno/front-a.csv")
    'text/csv'
    """
    return mimetypes.guess_type(name)[0] or "application/octet-stream"


def export_zip(store: Store, version: Version, out: BinaryIO | IO[bytes]) -> None:
    """Write a version as a ZIP archive: the programme as written, and every file at the path that it names.

    Equal versions give equal bytes; unpacked, it is a programme's folder like any other.
    """
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(_named(NAME), store.programmes.text(version))
        for path, digest in sorted(version.files.items()):
            with store.files.open(digest) as stream, archive.open(_named(path), "w", force_zip64=True) as member:
                while piece := stream.read(PIECE):
                    member.write(piece)


def import_zip(store: Store, stream: BinaryIO | IO[bytes], *, author: str, note: str = "") -> Version:
    """Take a ZIP archive of one programme and its files into the store, as a new programme.

    Raises
    ------
    InputError
        It is no such archive, holds no programme or several, or unpacks to more than the store takes.
    ProgrammeError
        With everything that is wrong in the programme.
    """
    text, kept = unpack(store, stream)
    return store.programmes.create(text, author=author, note=note, files=kept)


def take_whole(store: Store, stream: BinaryIO | IO[bytes], name: str, *, packed: bool, author: str) -> Version:
    """Take a file called `name` into the store as a new programme: its YAML, or where `packed` a ZIP archive.

    Raises
    ------
    InputError
        It is no text in UTF-8 or no archive of one programme, or it names files that it does not bring.
    ProgrammeError
        With everything that is wrong in the programme.
    """
    note = f"from {name}"
    if packed:
        return import_zip(store, stream, author=author, note=note)
    text = document_text(stream, name)
    named = sorted(named_files(text))
    if named:
        some = ", ".join(named[:3]) + (f" and {len(named) - 3} more" if len(named) > 3 else "")
        raise InputError(f"{name} names files that it does not bring: {some}; put it and them into one ZIP archive")
    return store.programmes.create(text, author=author, note=note)


def unpack(store: Store, stream: BinaryIO | IO[bytes]) -> tuple[str, Mapping[str, str]]:
    """Attach an archive's files; return its programme's text, and the digests of the files that it names by path."""
    try:
        with zipfile.ZipFile(stream) as archive:
            return _unpack(store, archive)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError) as error:
        raise InputError(f"this is no ZIP archive that can be read ({type(error).__name__})") from None


def _unpack(store: Store, archive: zipfile.ZipFile) -> tuple[str, Mapping[str, str]]:
    members = [m for m in archive.infolist() if not m.is_dir()]
    if len(members) > MOST_FILES or sum(m.file_size for m in members) > MOST_UNPACKED:
        raise InputError(f"an archive holds at most {MOST_FILES} files of {MOST_UNPACKED / 1e9:g} GB in all")
    documents = [m for m in members if PurePosixPath(m.filename).name in (NAME, "programme.yml")]
    if not documents:
        documents = [m for m in members if "/" not in m.filename and m.filename.endswith((".yaml", ".yml"))]
    if len(documents) != 1:
        raise InputError(f"an archive holds one programme, called {NAME}; this one has {len(documents)}")
    with archive.open(documents[0]) as stream:
        text = document_text(stream, PurePosixPath(documents[0].filename).name)
    root = PurePosixPath(documents[0].filename).parent
    named = set(named_files(text))
    kept: dict[str, str] = {}
    for member in members:
        place = PurePosixPath(member.filename)
        if not place.is_relative_to(root) or member is documents[0] or stat.S_ISLNK(member.external_attr >> 16):
            continue
        path = str(place.relative_to(root))
        if path not in named:
            continue
        with archive.open(member) as piece:
            kept[path] = store.files.attach(piece, path, media_type(path), most=LARGEST).digest
    return text, kept


def document_text(stream: IO[bytes], name: str) -> str:
    """Return the text of a programme that comes as bytes; InputError where it is too long or no text in UTF-8."""
    raw = stream.read(LARGEST_TEXT + 1)
    if len(raw) > LARGEST_TEXT:
        raise InputError(f"{name}: a programme has at most {LARGEST_TEXT / 1e6:g} MB")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(f"{name} is no text in UTF-8; save it as UTF-8 and take it in again") from None


def _named(path: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(path, _FIXED)
    info.compress_type = zipfile.ZIP_DEFLATED
    info.external_attr = (stat.S_IFREG | 0o644) << 16
    return info
