"""What is wrong with a document, all of it at once, each fault with its place and an example of what is right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tussock.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One fault of a document.

    Attributes
    ----------
    file : str
        Name of the document.
    line : int
        Line in it, from 1; 0 if the fault has no line.
    path : str
        Field path such as `vehicle.axles.front.spring.rate`; "" for the whole document.
    found : str
        What stands there.
    wrong : str
        What is wrong with it.
    example : str
        What would be right; "" if no example helps.
    """

    file: str
    line: int
    path: str
    found: str
    wrong: str
    example: str = ""

    def __post_init__(self) -> None:
        """Make every text one printable line: it comes from a file that anyone may have written."""
        for name in ("file", "path", "found", "wrong", "example"):
            text: str = getattr(self, name)
            if not text.isprintable():
                shown = "".join(c if c.isprintable() else " " if c.isspace() else ascii(c)[1:-1] for c in text)
                object.__setattr__(self, name, shown)

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}" if self.line else self.file
        where = f"{self.path}: " if self.path else ""
        found = f" Found {self.found}." if self.found else ""
        example = f" Right would be: {self.example}" if self.example else ""
        return f"{place}: {where}{self.wrong}{'' if self.wrong.endswith('?') else '.'}{found}{example}"


class ProgrammeError(InputError):
    """A document is wrong; `problems` lists every fault, in the order of the document."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        count = len(self.problems)
        head = f"{count} problem{'' if count == 1 else 's'}"
        super().__init__("\n".join((head, *(str(p) for p in self.problems))))
