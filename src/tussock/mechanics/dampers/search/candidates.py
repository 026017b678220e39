"""Stacks near the present one: what one change of disc reaches, level by level, without repeats."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.dampers.assembly import Parameters, StackValve, stack_of
from tussock.mechanics.dampers.stack import Disc, Stack
from tussock.mechanics.dampers.stack.parts import LEAST_OVERHANG

#: Numbers of discs in a shelf's list, from the piston outward.
Order = tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class ShelfDisc:
    """A disc in stock.

    Parameters
    ----------
    disc : Disc
        Size and material.
    count : int, optional
        How many lie on the shelf beside those already in the present stack; as many as wanted unless given.
    """

    disc: Disc
    count: int | None = None

    def __post_init__(self) -> None:
        """Refuse a count below 0."""
        if self.count is not None and self.count < 0:
            raise DomainError(f"{self.count} discs on the shelf; 0 or more can lie there")


@dataclass(frozen=True, kw_only=True, eq=False)
class Shelf:
    """The discs that a stack may be built of: those of the present stack and those in stock.

    Parameters
    ----------
    present : StackValve
        The valve as it is; its clamp, ports, seat and washer stay.
    stock : tuple of ShelfDisc
    parameters : Parameters, optional
        Of the house's dampers; the seat's offset matters.
    most_discs : int, optional
        Discs that the post takes; two more than the present stack unless given.
    most_height : float, optional
        Height of all discs that the post takes [m]; not limited unless given.
    tapered : bool, optional
        Whether no bending disc may be wider than the one nearer the piston; as in the present stack unless given.
    """

    present: StackValve
    stock: tuple[ShelfDisc, ...]
    parameters: Parameters | None = None
    most_discs: int | None = None
    most_height: float | None = None
    tapered: bool | None = None
    discs: tuple[Disc, ...] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """List every disc once, the present stack's first."""
        every = dict.fromkeys((*self.present.discs, *(item.disc for item in self.stock)))
        object.__setattr__(self, "discs", tuple(every))

    @cached_property
    def order(self) -> Order:
        """The present stack."""
        number = {disc: i for i, disc in enumerate(self.discs)}
        return tuple(number[disc] for disc in self.present.discs)

    @cached_property
    def _room(self) -> tuple[int | None, ...]:
        """How many of each disc may be used in all; None: any number."""
        used = Counter(self.order)
        more: dict[Disc, int | None] = {}
        for item in self.stock:
            before = more.get(item.disc, 0)
            more[item.disc] = None if item.count is None or before is None else before + item.count
        out: list[int | None] = []
        for i, disc in enumerate(self.discs):
            extra = more.get(disc, 0)
            out.append(None if extra is None else used[i] + extra)
        return tuple(out)

    @cached_property
    def _scarce(self) -> tuple[tuple[int, int], ...]:
        return tuple((i, room) for i, room in enumerate(self._room) if room is not None)

    @cached_property
    def _first(self) -> frozenset[int]:
        """Discs that may lie on the seat: they cover it."""
        return frozenset(i for i, disc in enumerate(self.discs) if disc.radius >= self.present.seat - 1e-9)

    @cached_property
    def _bending(self) -> tuple[float, ...]:
        """Radius of each disc, 0 for a spacer inside the clamp [m]."""
        least = self.present.clamp + LEAST_OVERHANG - 1e-12
        return tuple(disc.radius if disc.radius >= least else 0.0 for disc in self.discs)

    @cached_property
    def keeps_taper(self) -> bool:
        """Whether candidates must taper."""
        return self._tapers(self.order) if self.tapered is None else self.tapered

    def _tapers(self, order: Order) -> bool:
        radius, before = self._bending, float("inf")
        for i in order:
            if radius[i] > before + 1e-9:
                return False
            before = radius[i] or before
        return True

    @property
    def longest(self) -> int:
        """Most discs of a candidate."""
        return len(self.order) + 2 if self.most_discs is None else self.most_discs

    def allows(self, order: Order) -> bool:
        """Whether a stack can be built: discs at hand, seat covered, room on the post, taper kept."""
        if not order or len(order) > self.longest or order[0] not in self._first:
            return False
        for i, room in self._scarce:
            if order.count(i) > room:
                return False
        if self.keeps_taper and not self._tapers(order):
            return False
        return self.most_height is None or self.height(order) <= self.most_height + 1e-9

    def height(self, order: Order) -> float:
        """Return the height of all discs [m]."""
        return sum(self.discs[i].thickness for i in order)

    def valve(self, order: Order) -> StackValve:
        """Return the valve with the stack of an order."""
        return replace(self.present, discs=tuple(self.discs[i] for i in order))

    def stack(self, order: Order) -> Stack:
        """Return the stack of an order as the solver takes it."""
        return stack_of(self.valve(order), self.parameters)

    def neighbours(self, order: Order) -> Iterator[Order]:
        """Yield every stack one change away: a disc swapped, added, taken out, or two exchanged; with repeats."""
        every = range(len(self.discs))
        count = len(order)
        for at in range(count):
            before, after = order[:at], order[at + 1 :]
            for disc in every:
                if disc != order[at]:
                    yield (*before, disc, *after)
            if count > 1:
                yield before + after
        for at in range(count + 1):
            for disc in every:
                yield (*order[:at], disc, *order[at:])
        for a in range(count):
            for b in range(a + 1, count):
                if order[a] != order[b]:
                    new = list(order)
                    new[a], new[b] = order[b], order[a]
                    yield tuple(new)

    def level(self, parents: Iterable[Order], seen: Mapping[Order, int], *, most: int) -> list[Order]:
        """Return the allowed stacks one change from `parents`, in that order, not yet in `seen`, at most `most`."""
        found: dict[Order, None] = {}
        for parent in parents:
            for order in self.neighbours(parent):
                if order not in found and order not in seen and self.allows(order):
                    found[order] = None
                    if len(found) >= most:
                        return list(found)
        return list(found)


def changes_in_words(shelf: Shelf, order: Order) -> tuple[str, ...]:
    """Say what to take out of the present stack and what to put in, and where.

    A longest common run of discs stays; what is left over are the changes.
    """
    old, new = shelf.order, order
    size = np.zeros((len(old) + 1, len(new) + 1), dtype=int)
    for i in range(len(old) - 1, -1, -1):
        for j in range(len(new) - 1, -1, -1):
            size[i, j] = size[i + 1, j + 1] + 1 if old[i] == new[j] else max(size[i + 1, j], size[i, j + 1])
    said: list[str] = []
    i = j = 0
    while i < len(old) or j < len(new):
        out: list[int] = []
        into: list[int] = []
        place = i + 1
        while (i < len(old) or j < len(new)) and not (i < len(old) and j < len(new) and old[i] == new[j]):
            if j == len(new) or (i < len(old) and size[i + 1, j] >= size[i, j + 1]):
                out.append(old[i])
                i += 1
            else:
                into.append(new[j])
                j += 1
        while i < len(old) and j < len(new) and old[i] == new[j]:
            i, j = i + 1, j + 1
        for k in range(max(len(out), len(into))):
            gone = name_of(shelf.discs[out[k]]) if k < len(out) else ""
            come = name_of(shelf.discs[into[k]]) if k < len(into) else ""
            if gone and come:
                said.append(f"disc {place + k}: {gone} becomes {come}")
            elif gone:
                said.append(f"disc {place + k}: {gone} comes out")
            else:
                where = f"after disc {place + len(out) - 1}" if place + len(out) > 1 else "first, on the seat"
                said.append(f"{come} goes in {where}")
    return tuple(said)


def name_of(disc: Disc) -> str:
    """Name a disc by thickness and outer diameter as the workshop does.

    >>> from tussock.mechanics.dampers.stack import Material
    >>> steel = Material(youngs_modulus=206e9, poisson_ratio=0.3, density=7850.0, fatigue_strength=700e6)
    >>> name_of(Disc(radius=14e-3, thickness=0.2e-3, material=steel))
    '0.20 x 28 mm'
    """
    return f"{1e3 * disc.thickness:.2f} x {2e3 * disc.radius:g} mm"
