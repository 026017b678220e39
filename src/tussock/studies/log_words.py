"""Verdicts, marks and corrections as people type them, to the fields of the log."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from tussock.errors import InputError
from tussock.record import Programme
from tussock.record.log import VERDICTS
from tussock.record.problems import ProgrammeError
from tussock.record.scales import SCALES
from tussock.record.tree import read_tree
from tussock.record.view import nearest

VERDICT_EXAMPLE = "moor road: body float: slightly better"
MARK_EXAMPLE = "moor road: body float: 7"


def _attribute(text: str) -> str | None:
    """Return the attribute that a text names, by its key or its title; None for none."""
    key = "_".join(text.lower().split())
    if key in SCALES:
        return key
    return next((k for k, scale in SCALES.items() if scale.title == " ".join(text.lower().split())), None)


def _where(programme: Programme, parts: Sequence[str], text: str, example: str) -> dict[str, Any]:
    """Return section and attribute of what stands before the verdict or the mark."""
    sections = [s.name for s in programme.road_loop.sections]
    found: dict[str, Any] = {}
    for part in parts:
        attribute = None if part in sections else _attribute(part)
        if part in sections and "section" not in found:
            found["section"] = part
        elif attribute is not None and "attribute" not in found:
            found["attribute"] = attribute
        else:
            known = [*sections, *(s.title for s in SCALES.values())]
            raise InputError(
                f"{text!r}: {part!r} is neither a section of the road loop nor an attribute, or is named twice; "
                f"{nearest(part, known)} Write it as {example!r}"
            )
    return found


def read_verdict(programme: Programme, text: str) -> dict[str, Any]:
    """Return a verdict's fields from "section: attribute: much worse"; section and attribute may be left out.

    Raises
    ------
    InputError
        For a word that is no verdict, or a section or attribute that is not known; says which is near.
    """
    *before, word = (part.strip() for part in text.split(":"))
    if word not in VERDICTS:
        raise InputError(f"{text!r}: {word!r} is no verdict; {nearest(word, VERDICTS)} Write it as {VERDICT_EXAMPLE!r}")
    return {**_where(programme, before, text, VERDICT_EXAMPLE), "verdict": word}


def read_mark(programme: Programme, text: str) -> dict[str, Any]:
    """Return a rating's fields from "section: attribute: 7"; section and attribute may be left out.

    Raises
    ------
    InputError
        For what is no whole number, or a section or attribute that is not known; the range is checked with the entry.
    """
    *before, mark = (part.strip() for part in text.split(":"))
    if not mark.isdecimal():
        raise InputError(f"{text!r}: {mark!r} is no mark; a whole number from 1 to 10, as in {MARK_EXAMPLE!r}")
    return {**_where(programme, before, text, MARK_EXAMPLE), "mark": int(mark)}


def read_field(text: str) -> tuple[str, Any]:
    """Return name and value of "fitout=winch" or "tyre_pressure={front: 2.4 bar, rear: 2.4 bar}".

    Raises
    ------
    InputError
        There is no = in it, or the value is not written as a programme writes it.
    """
    name, sign, value = text.partition("=")
    name = name.strip()
    if not sign or not name.isidentifier():
        raise InputError(f"{text!r} is not a field and its value; write it as fitout=winch")
    try:
        return name, read_tree(f"value: {value.strip()}", name=name).data["value"]
    except ProgrammeError as error:
        raise InputError(f"{text!r}: the value cannot be read: {error.problems[0].wrong}") from None


def read_pair(text: str, what: str, example: str) -> dict[str, str]:
    """Return front and rear of "2.4 bar, 2.6 bar"; one alone is for both.

    >>> read_pair("2.4 bar", "tyre pressure", "2.4 bar, 2.6 bar")
    {'front': '2.4 bar', 'rear': '2.4 bar'}
    """
    parts = [part.strip() for part in text.split(",")]
    if not 1 <= len(parts) <= 2 or not all(parts):
        raise InputError(f"{text!r} is no {what}; write front and rear as {example!r}")
    return {"front": parts[0], "rear": parts[-1]}


def read_axles(texts: Sequence[str], what: str, example: str) -> dict[str, str]:
    """Return what is given per axle as "front=front_b".

    >>> read_axles(["front=front_b"], "damper", "front=front_b")
    {'front': 'front_b'}
    """
    found: dict[str, str] = {}
    for text in texts:
        axle, sign, name = (part.strip() for part in text.partition("="))
        if axle not in ("front", "rear") or not sign or not name or axle in found:
            raise InputError(f"{text!r} is no {what} of one axle, or the axle stands twice; write it as {example!r}")
        found[axle] = name
    return found
