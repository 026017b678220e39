"""Search over disc stacks: from a wanted curve and the stock to the stacks that give it."""

from tussock.mechanics.dampers.search.candidates import Shelf, ShelfDisc, changes_in_words, name_of
from tussock.mechanics.dampers.search.fast import ValvePlace
from tussock.mechanics.dampers.search.find import Level, Screening, Search, Step, search
from tussock.mechanics.dampers.search.missing import MissingDisc, missing_disc
from tussock.mechanics.dampers.search.trial import Found, Trial, WantedPoint, with_valve

__all__ = [
    "Found",
    "Level",
    "MissingDisc",
    "Screening",
    "Search",
    "Shelf",
    "ShelfDisc",
    "Step",
    "Trial",
    "ValvePlace",
    "WantedPoint",
    "changes_in_words",
    "missing_disc",
    "name_of",
    "search",
    "with_valve",
]
