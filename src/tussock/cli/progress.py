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

    def count(self, done: int, total: int, failed: int) -> None:
        """Say how many things of the step are done, of how many, and how many of them failed."""
        ...


def count_text(done: int, total: int, failed: int, left: float | None) -> str:
    """Return how far a step is in words; `left` in seconds.

    >>> count_text(40, 200, 1, 95.0)
    '40 of 200, 1 failed, 2 min left'
    """
    text = f"{done} of {total}" + (f", {failed} failed" if failed else "")
    if left is None or done >= total:
        return text
    return f"{text}, {left:.0f} s left" if left < 90.0 else f"{text}, {left / 60.0:.0f} min left"


class _Lines:
    """Writes a step when it ends, with its time, if it took long enough to wonder about."""

    def __init__(self) -> None:
        self._text = ""
        self._began = 0.0
        self._first: tuple[int, float] | None = None
        self._tenth = 0

    def start(self, text: str) -> None:
        self.end()
        self._text, self._began = text, time.perf_counter()
        self._first, self._tenth = None, 0

    def count(self, done: int, total: int, failed: int) -> None:
        """Write a line at every tenth."""
        text = self.counted(done, total, failed)
        tenth = 10 * done // max(total, 1)
        if 0 < tenth < 10 and tenth > self._tenth:
            self.write(f"  {text}")
        self._tenth = max(tenth, self._tenth)

    def counted(self, done: int, total: int, failed: int) -> str:
        """Return the count in words; the time left is guessed from the pace since the first count."""
        now = time.perf_counter()
        if self._first is None:
            self._first = (done, now)  # what a file held already was not done at this pace
        begun, then = self._first
        left = (now - then) / (done - begun) * (total - done) if done > begun else None
        return count_text(done, total, failed, left)

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
    from rich.progress_bar import ProgressBar
    from rich.status import Status
    from rich.table import Table as RichTable

    with Status("", console=err, spinner="line") as status:

        class Moving(_Lines):
            def start(self, text: str) -> None:
                super().start(text)
                status.update(text)

            def count(self, done: int, total: int, failed: int) -> None:
                line = RichTable.grid(padding=(0, 1))
                bar = ProgressBar(total=max(total, 1), completed=done, width=24)
                line.add_row(self._text.partition(":")[0], bar, self.counted(done, total, failed))
                status.update(line)

            def write(self, text: str) -> None:
                err.print(text, style="dim")

        moving = Moving()
        yield moving
        moving.end()
