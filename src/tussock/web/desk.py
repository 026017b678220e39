"""What the pages stand on: programmes of the store opened as jobs, and results computed once and kept.

A page never computes: it asks the desk, which computes in a thread; what takes long is a job (`jobs`) whose result the
desk keeps.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Iterable, Mapping
from contextlib import nullcontext
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, TypeAlias

from tussock.errors import InputError, TussockError
from tussock.studies.job import KERB, STOCK, Job
from tussock.studies.result import Result
from tussock.web.further import Option
from tussock.web.places import FURTHER, PLACES, Place
from tussock.web.shelf import Shelf

if TYPE_CHECKING:
    from tussock.store import Question, Store, Version

_LOCKS = 200
_RESULTS = 400

Shown: TypeAlias = Literal["answered", "look", "open"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Choice:
    """What every page follows: fit-out, build and the build to compare with; None is the programme's own choice.

    `further` holds what one study asks besides, as name and text.
    """

    fitout: str | None = None
    build: str | None = None
    against: str | None = None
    further: tuple[tuple[str, str], ...] = ()

    @classmethod
    def of(cls, query: Iterable[tuple[str, str]]) -> Choice:
        """Return what the query of an address says; what no page knows is left out."""
        named = dict(query)
        return cls(
            fitout=named.get("fitout"),
            build=named.get("build"),
            against=named.get("against"),
            further=tuple(sorted((k, v) for k, v in named.items() if k in FURTHER)),
        )

    def query(self) -> dict[str, str]:
        """Return what is chosen, as an address carries it."""
        named = {"fitout": self.fitout, "build": self.build, "against": self.against}
        return {key: value for key, value in named.items() if value} | dict(self.further)

    def at(self, place: Place) -> Choice:
        """Return the choice without what other pages ask."""
        own = {row.name for row in place.further}
        return replace(self, further=tuple(sorted((k, v) for k, v in self.further if k in own)))


@dataclass(frozen=True, kw_only=True, slots=True)
class Standing:
    """The state of a page for the rail: shape, word, and why it wants a look."""

    state: Shown
    word: str
    why: str = ""


class Desk:
    """Programmes of a store as jobs and results; safe from many threads."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self.shelf = Shelf()
        self._guard = threading.Lock()
        self._results: OrderedDict[str, Result] = OrderedDict()
        self._absent: set[str] = set()
        self._computing: OrderedDict[int, threading.Lock] = OrderedDict()
        # Short studies take turns: they call compiled code many times, and beside another thread each waits after every
        # such call until the other lets the interpreter go, so that all are late
        self._turn = threading.Semaphore(1)

    def job(self, version: Version) -> Job:
        """Return a version opened as a job, with the files that it names."""
        return self.store.programmes.job(version)

    def checked(self, version: Version, choice: Choice) -> None:
        """Refuse a choice that the programme does not have; InputError that says which it has."""
        job = self.job(version)
        if choice.fitout or choice.build:
            job.setup(choice.fitout or KERB, choice.build or STOCK)
        if choice.against:
            job.setup(KERB, choice.against)

    def offered(self, version: Version, place: Place) -> Mapping[str, tuple[Option, ...]]:
        """Return what may be chosen for each further input of a page that offers choices."""
        rows = [row for row in place.further if row.options is not None]
        if not rows:
            return {}
        job = self.job(version)
        return {row.name: tuple(row.options(self.store, version, job)) for row in rows if row.options}

    def told(self, version: Version, place: Place, choice: Choice) -> Mapping[str, Option]:
        """Return what counts for each further input of a page, left out where the study's own default does.

        Raises
        ------
        InputError
            Something is chosen that there is not, or nothing that must be.
        """
        said, offered = dict(choice.further), self.offered(version, place)
        counts = {row.name: row.chosen(said.get(row.name), offered.get(row.name, ())) for row in place.further}
        return {name: option for name, option in counts.items() if option is not None}

    def kept(self, version: Version, place: Place, choice: Choice) -> Result | None:
        """Return a result that was computed before, or None; computes nothing.

        Raises
        ------
        InputError
            As `told`.
        """
        question = self._question(version, place, choice)
        with self._guard:
            if question.key in self._results:
                self._results.move_to_end(question.key)
                return self._results[question.key]
            if question.key in self._absent:
                return None
        found = self.store.results.get(question)
        with self._guard:
            if found is None:
                self._absent.add(question.key)  # only this process computes, so it need not ask again
            else:
                self._remember(question.key, found)
        return found

    def result(self, version: Version, place: Place, choice: Choice) -> Result:
        """Return a result, computed now if it must be; blocks, so call it from a thread."""
        found = self.kept(version, place, choice)
        if found is not None:
            return found
        with self._guard:
            lock = self._computing.setdefault(version.id, threading.Lock())
            while len(self._computing) > _LOCKS:
                self._computing.popitem(last=False)
        with lock:  # the studies of one job share what they build
            found = self.kept(version, place, choice)
            if found is None:
                with nullcontext() if place.long else self._turn:
                    found = place.run(
                        self.job(version),
                        fitout=choice.fitout,
                        build=choice.build,
                        against=choice.against,
                        told=self.values(version, place, choice),
                    )
                self.keep(version, place, choice, found)
        return found

    def values(self, version: Version, place: Place, choice: Choice) -> Mapping[str, str]:
        """Return what a study is told of its further inputs; InputError as `told`."""
        return {name: option.value or option.key for name, option in self.told(version, place, choice).items()}

    def at_once(self, version: Version, place: Place, choice: Choice) -> Result:
        """Return a result for whoever does not wait long: of a long study only what is kept; InputError for none."""
        found = self.kept(version, place, choice) if place.long else self.result(version, place, choice)
        if found is None:
            raise InputError(f"{place.title} takes long and is not computed yet; ask for its answer first")
        return found

    def keep(self, version: Version, place: Place, choice: Choice, result: Result) -> None:
        """Keep a computed result, here and in the store."""
        question = self._question(version, place, choice)
        with self._guard:
            self._absent.discard(question.key)
            self._remember(question.key, result)
        self.store.results.put(question, result)

    def standing(self, version: Version, place: Place, choice: Choice) -> Standing:
        """Return the state of a page from what is kept; computes nothing."""
        try:
            result = self.kept(version, place, choice.at(place))
        except TussockError:  # its further inputs want a choice first
            result = None
        if result is None:
            return Standing(state="open", word="open")
        return standing_of(result)

    def standings(self, version: Version, choice: Choice) -> Mapping[str, Standing]:
        """Return the state of every page."""
        return {name: self.standing(version, place, choice) for name, place in PLACES.items()}

    def _question(self, version: Version, place: Place, choice: Choice) -> Question:
        setup = {"fitout": choice.fitout, "build": choice.build, "against": choice.against}
        if place.further:
            told = self.told(version, place, choice)
            setup |= {f"further {name}": option.key for name, option in told.items()}
        return self.store.results.question(version, place.name, setup)

    def _remember(self, key: str, result: Result) -> None:
        self._results[key] = result
        while len(self._results) > _RESULTS:
            self._results.popitem(last=False)


def standing_of(result: Result) -> Standing:
    """Return the state of a result in words, with the first thing to look at."""
    if result.state == "answered":
        return Standing(state="answered", word="answered")
    why = result.notices[0].text if result.notices else "a check fails"
    return Standing(state="look", word="look", why=why)
