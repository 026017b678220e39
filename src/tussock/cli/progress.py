"""What is being done, on stderr: a moving line on a terminal, plain lines with times elsewhere."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Protocol

from tussock.cli.show import console

_WORTH_SAYING = 0.3  # a step shorter than this leaves no line behind [s]


class Progress(Protocol):
    """Something that is told which step starts."""

    def start(self, text: str) -> None:
        """End the step before, and start one."""
        ...


class _Lines:
    """Writes a step when it ends, with its time, if it took long enough to wonder about."""

    def __init__(self) -> None:
        self._text = ""
        self._began = 0.0

    def start(self, text: str) -> None:
        self.end()
        self._text, self._began = text, time.perf_counter()

    def end(self) -> None:
        took = time.perf_counter() - self._began
        if self._text and took >= _WORTH_SAYING:
            self.write(f"{self._text}: {took:.1f} s")
        self._text = ""

    def write(self, text: str) -> None:
        sys.stderr.write(f"{text}\n")
        sys.stderr.flush()


@contextmanager
def reporting() -> Iterator[Progress]:
    """Give a Progress that writes to stderr and cleans up after itself."""
    err = console(stderr=True)
    lines = _Lines()
    if not err.is_terminal:
        yield lines
        lines.end()
        return
    from rich.status import Status

    with Status("", console=err, spinner="line") as status:

        class Moving(_Lines):
            def start(self, text: str) -> None:
                super().start(text)
                status.update(text)

            def write(self, text: str) -> None:
                err.print(text, style="dim")

        moving = Moving()
        yield moving
        moving.end()
