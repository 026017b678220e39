"""Long studies, each in a process of its own: the pages stay quick, and a study can be stopped at once."""

from __future__ import annotations

import multiprocessing
import threading
import time
import uuid
from collections import OrderedDict
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TYPE_CHECKING, Literal, TypeAlias

from tussock.errors import InputError, TussockError
from tussock.web.desk import Choice, Desk
from tussock.web.places import PLACES, Told

if TYPE_CHECKING:
    from multiprocessing.context import SpawnProcess

    from tussock.store import Version
    from tussock.studies.result import Result

MOST_AT_ONCE = 2
"""Studies that run at one time; the others wait for their turn."""
REMEMBERED = 200

JobState: TypeAlias = Literal["waiting", "running", "done", "failed", "cancelled"]
_ENDED: tuple[JobState, ...] = ("done", "failed", "cancelled")


@dataclass(frozen=True, slots=True, kw_only=True)
class JobStatus:
    """Where a long study stands.

    Attributes
    ----------
    id : str
        Name of the job.
    programme_id, version : int
        What it computes on.
    study : str
        Name of the study.
    choice : Choice
        Fit-out, build and the build to compare with.
    state : str
        waiting, running, done, failed or cancelled.
    step, steps : int
        Part of the study that is under way, and how many there are.
    words : str
        What is under way, or why it failed.
    seconds : float
        How long it has run [s].
    """

    id: str
    programme_id: int
    version: int
    study: str
    choice: Choice
    state: JobState
    step: int
    steps: int
    words: str
    seconds: float

    @property
    def ended(self) -> bool:
        """Whether nothing more comes of it."""
        return self.state in _ENDED


class _Work:
    def __init__(self, version: Version, study: str, choice: Choice, told: Told) -> None:
        self.id = uuid.uuid4().hex
        self.version, self.study, self.choice, self.told = version, study, choice, told
        self.state: JobState = "waiting"
        self.step, self.steps, self.words = 0, 1, "waiting for its turn"
        self.begun = self.ended = time.monotonic()
        self.process: SpawnProcess | None = None

    def status(self) -> JobStatus:
        return JobStatus(
            id=self.id,
            programme_id=self.version.programme_id,
            version=self.version.number,
            study=self.study,
            choice=self.choice,
            state=self.state,
            step=self.step,
            steps=self.steps,
            words=self.words,
            seconds=(self.ended if self.state in _ENDED else time.monotonic()) - self.begun,
        )


class Jobs:
    """The long studies of a desk; the same question is computed once, whoever asks."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._lock = threading.Lock()
        self._turns = threading.Semaphore(MOST_AT_ONCE)
        self._works: OrderedDict[str, _Work] = OrderedDict()

    def start(self, version: Version, study: str, choice: Choice) -> JobStatus:
        """Start a study, or join the one that computes the same already.

        Raises
        ------
        InputError
            There is no such study, or too many wait.
        """
        if study not in PLACES:
            raise InputError(f"there is no study {study[:40]!r}; there are {', '.join(PLACES)}")
        choice = choice.at(PLACES[study])
        told = self._desk.values(version, PLACES[study], choice)
        with self._lock:
            running = self._running(version, study, choice)
            if running is not None:
                return running.status()
            if sum(w.state not in _ENDED for w in self._works.values()) >= 20:
                raise InputError("twenty studies wait already; let some end, or cancel some")
            work = _Work(version, study, choice, told)
            self._works[work.id] = work
            for old in [w.id for w in self._works.values() if w.state in _ENDED][
                : max(len(self._works) - REMEMBERED, 0)
            ]:
                del self._works[old]
        threading.Thread(target=self._run, args=(work,), daemon=True, name=f"job {study}").start()
        return work.status()

    def running(self, version: Version, study: str, choice: Choice) -> JobStatus | None:
        """Return the job that computes a study or waits for its turn, or None; starts nothing."""
        choice = choice.at(PLACES[study])
        with self._lock:
            work = self._running(version, study, choice)
            return None if work is None else work.status()

    def status(self, job_id: str) -> JobStatus:
        """Return where a job stands; InputError if there is none of that name."""
        return self._work(job_id).status()

    def cancel(self, job_id: str) -> JobStatus:
        """Stop a job; one that has ended stays as it is."""
        work = self._work(job_id)
        with self._lock:
            if work.state not in _ENDED:
                self._end(work, "cancelled", "stopped when asked to")
                if work.process is not None:
                    work.process.terminate()
        return work.status()

    def close(self) -> None:
        """Stop everything."""
        for work in list(self._works.values()):
            self.cancel(work.id)

    def _running(self, version: Version, study: str, choice: Choice) -> _Work | None:
        asked = (version.id, study, choice)
        return next(
            (w for w in self._works.values() if (w.version.id, w.study, w.choice) == asked and w.state not in _ENDED),
            None,
        )

    def _work(self, job_id: str) -> _Work:
        with self._lock:
            if job_id not in self._works:
                raise InputError("there is no such job; it ended long ago, or the server has started anew")
            return self._works[job_id]

    def _end(self, work: _Work, state: JobState, words: str) -> None:
        work.state, work.words, work.ended = state, words, time.monotonic()

    def _run(self, work: _Work) -> None:
        with self._turns:
            try:
                self._compute(work)
            except Exception as error:
                told = str(error) if isinstance(error, TussockError) else "a fault of Tussock itself; its log says more"
                with self._lock:
                    if work.state not in _ENDED:
                        self._end(work, "failed", told)
                if not isinstance(error, TussockError):
                    raise

    def _compute(self, work: _Work) -> None:
        loaded = self._desk.store.programmes.programme(work.version)
        known = self._known(work) if work.study == "release" else {}
        context = multiprocessing.get_context("spawn")
        here, there = context.Pipe(duplex=False)
        with self._lock:
            if work.state in _ENDED:
                return
            assert loaded.path is not None
            work.process = context.Process(
                target=_in_process,
                args=(there, loaded.path, work.study, work.choice, work.told, known),
                daemon=True,
            )
            work.process.start()
            work.state, work.words, work.begun = "running", "opening the programme", time.monotonic()
        there.close()
        try:
            self._listen(work, here)
        finally:
            here.close()
            work.process.join()

    def _known(self, work: _Work) -> dict[str, Result]:
        """Return the stages that are answered already: the release needs no second run of them."""
        places = [p for p in PLACES.values() if p.stage and p.name != work.study]
        kept = {p.name: self._desk.kept(work.version, p, work.choice.at(p)) for p in places}
        return {name: result for name, result in kept.items() if result is not None}

    def _listen(self, work: _Work, here: Connection) -> None:
        while True:
            try:
                kind, content = here.recv()
            except EOFError:
                with self._lock:
                    if work.state not in _ENDED:
                        self._end(work, "failed", "its process ended before the answer; there may be too little memory")
                return
            if kind == "step":
                with self._lock:
                    work.step, work.steps, work.words = content
                continue
            if kind == "part":  # a stage that the release has run on its way
                name, result = content
                self._desk.keep(work.version, PLACES[name], work.choice.at(PLACES[name]), result)
                continue
            if kind == "result":
                self._desk.keep(work.version, PLACES[work.study], work.choice, content)
            with self._lock:
                if work.state not in _ENDED:
                    self._end(work, "done" if kind == "result" else "failed", "" if kind == "result" else content)
            return


def _in_process(
    there: Connection, path: Path, study: str, choice: Choice, told: Told, known: dict[str, Result]
) -> None:
    """Compute in the process of a job, and send steps and the result."""
    import signal

    from tussock.studies.job import open_job
    from tussock.studies.stages import STAGES

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the server's; it stops its jobs itself
    try:
        job = open_job(path)
        place = PLACES[study]
        before = [s for s in STAGES if s.name != "release"] if study == "release" else []
        at = (0, 1, place.question)

        def tell(words: str) -> None:
            there.send(("step", (*at[:2], f"{at[2]} {words}")))

        job.tell = tell
        for i, stage in enumerate(before, 1):  # what the release reads, one after the other; each is kept by the job
            at = (i, len(before) + 1, stage.question)
            there.send(("step", at))
            if stage.name in known:
                stage.know(job, known[stage.name], fitout=choice.fitout, build=choice.build, against=choice.against)
                continue
            part = stage.run(job, fitout=choice.fitout, build=choice.build, against=choice.against)
            there.send(("part", (stage.name, part)))
        at = (len(before) + 1, len(before) + 1, place.question)
        there.send(("step", at))
        result = place.run(
            job,
            fitout=choice.fitout,
            build=choice.build,
            against=choice.against,
            told=told,
            report=lambda done, of, failed: there.send(("step", (done, of, place.question))),
        )
    except TussockError as error:
        there.send(("failed", str(error)))
    else:
        there.send(("result", result))
    finally:
        there.close()
