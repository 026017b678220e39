"""Hardpoints by name and side, mirrored where only the left is given, and the changes that a kit makes to them."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Mapping, Sequence

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.model import CHASSIS

#: The tie rod is named by its left end; its right end is the mirror image all the same.
PUBLIC = {"tie_rod": "tie_rod_left"}
MIRROR = np.array([1.0, -1.0, 1.0])


class Hardpoints:
    """Table of measured points; knows which body ends use them.

    Parameters
    ----------
    given : mapping of name to array (3,)
        Points of the left side or central ones [m]; a name ending in ``_right`` gives the right side its own.
    central : collection of str
        Stems that stand once.
    name : str
        Name of the axle, for messages.
    """

    def __init__(self, given: Mapping[str, Floats], *, central: Collection[str], name: str) -> None:
        self.name = name
        self.central = frozenset(central) | {"track_rod"}
        self._points: dict[tuple[str, str], Floats] = {}
        self._ends: dict[str, list[str]] = {}
        self._paired: dict[str, bool] = {}
        self._changed: dict[tuple[str, str, str], Floats] = {}
        for key, value in given.items():
            point = np.asarray(value, dtype=np.float64)
            if point.shape != (3,) or not np.all(np.isfinite(point)):
                raise InputError(f"{name}: hardpoint '{key}' is {value!r}; it needs three finite coordinates in metres")
            stem, side = self._split(key)
            self._points[stem, side] = point
        self.names = list(dict.fromkeys(stem for stem, _ in self._points))
        for stem in self.central:
            if stem not in {"track_rod"} and not any(known.startswith(stem) for known in self.names):
                raise InputError(f"{name}: '{stem}' is called central, but no hardpoint begins with that name")

    @staticmethod
    def _split(key: str) -> tuple[str, str]:
        if key.endswith("_right"):
            return key.removesuffix("_right"), "right"
        return key.removesuffix("_left"), "left"

    def has(self, hardpoint: str) -> bool:
        """Tell whether the point is given."""
        return (hardpoint, "left") in self._points

    def claimed(self, hardpoint: str) -> bool:
        """Tell whether an end uses the point."""
        return hardpoint in self._ends

    def paired(self, hardpoint: str) -> bool:
        """Tell whether a claimed point stands on both sides."""
        return self._paired.get(hardpoint, True)

    def claim(self, hardpoint: str, body: str, *, paired: bool) -> None:
        """Note that a body end uses the point, and check that it is given and on its side."""
        if not self.has(hardpoint):
            near = difflib.get_close_matches(hardpoint, [n for n in self.names if n not in self._ends], n=1)
            raise InputError(
                f"{self.name}: the hardpoint '{PUBLIC.get(hardpoint, hardpoint)}' is missing"
                + (f"; is '{near[0]}' meant for it?" if near else "")
            )
        self._ends.setdefault(hardpoint, [])
        if body not in self._ends[hardpoint]:
            self._ends[hardpoint].append(body)
        self._paired[hardpoint] = paired
        if not paired and (hardpoint, "right") in self._points:
            raise InputError(
                f"{self.name}: '{hardpoint}_right' is given, but '{hardpoint}' stands once; give that one alone"
            )
        if paired:
            for side, sign in (("left", 1.0), ("right", -1.0)):
                point = self._points.get((hardpoint, side))
                if point is not None and not point[1] * sign > 0.0:
                    raise InputError(
                        f"{self.name}: the {side} hardpoint '{hardpoint}' has y = {1e3 * point[1]:.1f} mm; y points "
                        f"to the left, so a {side} point needs y {'above' if sign > 0.0 else 'below'} zero "
                        "(was the other side given?)"
                    )

    def attachments(self, bodies: Sequence[str], *, ends: str) -> dict[str, str]:
        """Claim the pairs ``<stem>_chassis``, ``<stem>_<body>`` that no joint uses; returns their stems with the body.

        Every hardpoint must have its use then: raises InputError for one that has none; `ends` says what a pair is
        called.
        """
        found: dict[str, str] = {}
        for hardpoint in self.names:
            stem = hardpoint.removesuffix("_chassis")
            if stem == hardpoint or self.claimed(hardpoint):
                continue
            for body in bodies:
                other = f"{stem}_{body}"
                if self.has(other) and not self.claimed(other):
                    paired = stem not in self.central
                    self.claim(hardpoint, CHASSIS, paired=paired)
                    self.claim(other, body, paired=paired)
                    found[stem] = body
                    break
        self._check_all_claimed(ends)
        return found

    def _check_all_claimed(self, ends: str) -> None:
        """Refuse hardpoints that nothing uses: they are typing errors; `ends` says what a pair is called."""
        for hardpoint in self.names:
            if hardpoint not in self._ends:
                known = [n for n in self._ends if n != hardpoint]
                near = difflib.get_close_matches(hardpoint, known, n=1)
                raise InputError(
                    f"{self.name}: nothing in this layout uses the hardpoint '{hardpoint}'"
                    + (f"; did you mean '{near[0]}'?" if near else "")
                    + f"; an attachment needs both ends, {ends}"
                )

    def stock(self, hardpoint: str, side: str) -> Floats:
        """Point in the stock pose; ``side`` is left, right, or empty for a central one [m]."""
        if side == "right":
            own = self._points.get((hardpoint, "right"))
            return own if own is not None else self._points[hardpoint, "left"] * MIRROR
        return self._points[hardpoint, "left"]

    def get(self, hardpoint: str, side: str, body: str) -> Floats:
        """Point of one body end, changed where the kit changes it [m]."""
        changed = self._changed.get((hardpoint, side or "left", body))
        return changed if changed is not None else self.stock(hardpoint, side)

    def change(self, changes: Mapping[str, Floats]) -> None:
        """Take the kit's changes; raises InputError for unknown names, sides and ends."""
        one_sided = {key for key in changes if key.partition("@")[0].endswith(("_left", "_right"))} - set(
            PUBLIC.values()
        )
        # changes of one side come last, so that they win over those of both
        for key in sorted(changes, key=lambda k: (k in one_sided, k)):
            value = changes[key]
            point = np.asarray(value, dtype=np.float64)
            if point.shape != (3,) or not np.all(np.isfinite(point)):
                raise InputError(
                    f"{self.name}: change '{key}' is {value!r}; it needs three finite coordinates in metres"
                )
            written, _, body = key.partition("@")
            hardpoint, side = written, ""
            if hardpoint not in self._ends:
                hardpoint, side = self._split(written)
                side = "" if written == PUBLIC.get(hardpoint) else side if written != hardpoint else ""
            if hardpoint not in self._ends:
                near = difflib.get_close_matches(hardpoint, self._ends, n=1)
                raise InputError(
                    f"{self.name}: change '{key}' names a hardpoint that does not exist"
                    + (f"; did you mean '{near[0]}'?" if near else "")
                )
            ends = self._ends[hardpoint]
            if not body:
                if len(ends) > 1:
                    raise InputError(
                        f"{self.name}: change '{key}' leaves open which end moves; write "
                        + " or ".join(f"{written}@{end}" for end in ends)
                    )
                body = ends[0]
            if body not in ends:
                raise InputError(
                    f"{self.name}: change '{key}': '{hardpoint}' has no end on '{body}', only on {', '.join(ends)}"
                )
            if hardpoint == "wheel_centre":
                raise InputError(
                    f"{self.name}: change '{key}': the wheel centre is where the axle is measured; it stays"
                )
            if not self._paired[hardpoint]:
                self._changed[hardpoint, "left", body] = point
                continue
            if side != "right":
                self._changed[hardpoint, "left", body] = point
            if side != "left":
                self._changed[hardpoint, "right", body] = point if side == "right" else point * MIRROR


def bush_frame(axis: Floats, *, mirrored: bool) -> Floats:
    """Rows a1, a2, a3 of a bush's frame, a3 along its axis; mirrored in y for the right side."""
    size = float(np.linalg.norm(axis))
    if not size > 1e-9:
        raise InputError(f"the axis of a bush is {axis.tolist()}; it needs a direction")
    third = axis / size * (MIRROR if mirrored else 1.0)
    other = np.array([1.0, 0.0, 0.0]) if abs(third[0]) < 0.8 else np.array([0.0, 0.0, 1.0])
    first = other - third * float(other @ third)
    first /= np.linalg.norm(first)
    return np.array([first, np.cross(third, first), third])
