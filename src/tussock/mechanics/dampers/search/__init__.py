"""Search over disc stacks: from a wanted curve and the stock to the stacks that give it."""

from tussock.mechanics.dampers.search.candidates import Shelf, ShelfDisc, changes_in_words, name_of
from tussock.mechanics.dampers.search.fast import ValvePlace
from tussock.mechanics.dampers.search.find import Found, Level, Screening, Search, Step, WantedPoint, search, with_valve
from tussock.mechanics.dampers.search.missing import MissingDisc, missing_disc

__all__ = [
    "Found",
    "Level",
    "MissingDisc",
    "Screening",
    "Search",
    "Shelf",
    "ShelfDisc",
    "Step",
    "ValvePlace",
    "WantedPoint",
    "changes_in_words",
    "missing_disc",
    "name_of",
    "search",
    "with_valve",
]
