"""Pictures that are moved by hand, as rows: the page of a question, and what it offers beside the answer."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING, Protocol

from tussock.web.handover import handover
from tussock.web.linkage_view import linkage_hand
from tussock.web.stack_hand import stack_hand

if TYPE_CHECKING:
    from tussock.store import Version
    from tussock.web.question_page import QuestionPage


class Hand(Protocol):
    """What somebody moves on a page."""

    async def show(self) -> None:
        """Show it for the first time; the page stands already."""
        ...

    async def follow(self, version: Version) -> None:
        """Follow a new version."""
        ...


HANDS: dict[str, Callable[[QuestionPage], Awaitable[Hand | None]]] = {
    "dampers": stack_hand,
    "release": handover,
    "geometry": linkage_hand,
}
"""By page; None is returned where the programme has nothing to move."""
