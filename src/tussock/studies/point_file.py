"""The file of a sweep: what it was made from on its first line, one finished point on each line after it.

JSON Lines, UTF-8. The first line is an object with ``format`` ("tussock-points"), ``version`` (1), ``inputs`` (all that
the figures depend on), ``digest`` (SHA-256 of `inputs`), ``adjusters``, ``figures`` (names in order) and ``points``
(how many the design has). Every other line is ``{"point": number, "values": [...], "figures": [...]}`` or
``{"point": number, "values": [...], "failed": "reason"}``, in the order finished. Floats are written so that reading
them gives the same bits. A line that a crash cut off is dropped when the file is taken up again; a write that fails
(disk full) is taken back, so that only whole lines stand in it.
"""

from __future__ import annotations

import hashlib
import json
import math
import os
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from types import TracebackType

from tussock.errors import InputError
from tussock.studies.points import Outcome

FORMAT, VERSION = "tussock-points", 1
Inputs = Mapping[str, object]


def digest_of(inputs: Inputs) -> str:
    """Return the SHA-256 of what figures depend on, by its canonical JSON."""
    return hashlib.sha256(json.dumps(inputs, sort_keys=True, ensure_ascii=False).encode()).hexdigest()


class PointFile:
    """An open results file; a context manager.

    Parameters
    ----------
    path : Path
        Where.
    inputs : mapping
        All that the figures depend on, as JSON values by name in words.
    adjusters, figures : sequence of str
        Names of a line's values and figures.
    points : int
        How many the design has.
    resume : bool
        Go on with what the file holds; else a file that exists is refused.

    Raises
    ------
    InputError
        For a file that exists, or when resuming one that is missing, is none of this kind, or was made from something
        else: says what differs.
    """

    def __init__(
        self,
        path: Path,
        *,
        inputs: Inputs,
        adjusters: Sequence[str],
        figures: Sequence[str],
        points: int,
        resume: bool,
    ) -> None:
        self.path = path
        self.found: tuple[Outcome, ...] = ()
        self.dropped = False  # whether a line that was cut off stood at the end
        self._head = {
            "format": FORMAT,
            "version": VERSION,
            "digest": digest_of(inputs),
            "inputs": inputs,
            "adjusters": list(adjusters),
            "figures": list(figures),
            "points": points,
        }
        try:
            if resume:
                self._take_up()
            else:
                self._descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
                self._end = 0
                try:
                    self._write(json.dumps(self._head, ensure_ascii=False) + "\n")
                except InputError:
                    self.close()
                    path.unlink(missing_ok=True)
                    raise
        except FileExistsError:
            raise InputError(f"{path} exists; go on with it by --resume, or name another file") from None
        except FileNotFoundError:
            what = "there is no such file to go on with" if resume else "its folder does not exist; make it first"
            raise InputError(f"cannot open {path}: {what}") from None
        except OSError as error:
            raise InputError(f"cannot open {path}: {error.strerror}") from None

    def append(self, outcomes: Iterable[Outcome]) -> None:
        """Write finished points; InputError if that fails, with the file as it was before."""
        self._write("".join(_line(o) for o in outcomes))

    def close(self) -> None:
        """Close the file."""
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1

    def __enter__(self) -> PointFile:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _write(self, text: str) -> None:
        """Write whole lines at the end, or nothing."""
        raw, done = text.encode(), 0
        try:
            os.lseek(self._descriptor, self._end, os.SEEK_SET)
            while done < len(raw):
                done += os.write(self._descriptor, raw[done:])
            os.fsync(self._descriptor)
        except OSError as error:
            os.ftruncate(self._descriptor, self._end)
            raise InputError(
                f"cannot write to {self.path}: {error.strerror}; it holds every point finished before, whole. "
                "Make room and go on with --resume"
            ) from None
        self._end += len(raw)

    def _take_up(self) -> None:
        raw = self.path.read_bytes()
        cut = raw.rfind(b"\n") + 1
        self.dropped = cut < len(raw)
        lines = raw[:cut].decode("utf-8", errors="replace").splitlines()
        self._check(lines[0] if lines else "")
        self.found = tuple(self._outcome(line, i) for i, line in enumerate(lines[1:], start=2))
        self._descriptor = os.open(self.path, os.O_WRONLY)
        self._end = cut
        os.ftruncate(self._descriptor, cut)

    def _check(self, first: str) -> None:
        """Refuse a file that does not go with these inputs."""
        head = _parsed(first)
        if head.get("format") != FORMAT:
            raise InputError(f"{self.path} is no file of a sweep: its first line does not say {FORMAT!r}")
        if head.get("version") != VERSION:
            raise InputError(f"{self.path} has version {head.get('version')} of the format; this one reads {VERSION}")
        same = ("digest", "adjusters", "figures", "points")
        if all(head.get(key) == self._head[key] for key in same):
            return
        theirs, ours = head.get("inputs"), self._head["inputs"]
        assert isinstance(ours, Mapping)
        theirs = theirs if isinstance(theirs, dict) else {}
        plain = json.loads(json.dumps(ours))
        differ = [key for key in (*plain, *(k for k in theirs if k not in plain)) if theirs.get(key) != plain.get(key)]
        first_of = next((k for k in same if head.get(k) != self._head[k]), "")
        raise InputError(
            f"{self.path} was made from something else: {', '.join(differ) or first_of} "
            f"{'differs' if len(differ) < 2 else 'differ'}; name another file, or ask again as it was asked then"
        )

    def _outcome(self, line: str, number: int) -> Outcome:
        row = _parsed(line)
        try:
            point, failed = row["point"], str(row.get("failed", ""))
            values, figures = _floats(row["values"]), () if failed else _floats(row["figures"])
            if not isinstance(point, int):
                raise TypeError
            right = 0 <= point < int(str(self._head["points"]))
            shapes = (len(values), len(figures)) == (
                len(self._head["adjusters"]),  # type: ignore[arg-type]
                0 if failed else len(self._head["figures"]),  # type: ignore[arg-type]
            )
            if not (right and shapes and all(map(math.isfinite, (*values, *figures)))):
                raise ValueError
        except (KeyError, TypeError, ValueError):
            raise InputError(f"{self.path}, line {number}: this is no point of the sweep; take the line out") from None
        return Outcome(point, values, figures, failed)


def _parsed(line: str) -> dict[str, object]:
    try:
        value = json.loads(line)
    except ValueError:
        return {}
    return value if isinstance(value, dict) else {}


def _floats(values: object) -> tuple[float, ...]:
    if not isinstance(values, list):
        raise TypeError
    return tuple(float(v) for v in values)


def _line(outcome: Outcome) -> str:
    row: dict[str, object] = {"point": outcome.number, "values": outcome.values}
    row |= {"failed": outcome.failed} if outcome.failed else {"figures": outcome.figures}
    return json.dumps(row, ensure_ascii=False, allow_nan=False) + "\n"
