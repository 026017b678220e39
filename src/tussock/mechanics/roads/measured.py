"""Measured roads: both wheel tracks as text, or a surface in ASAM OpenCRG, brought onto a section's points.

References
----------
.. [1] ASAM OpenCRG 1.2: heights on a regular grid along a reference line, with its slope and banking. The standard's
   text was not seen; files are read by the standard's own library (extra ``crg``).
.. [2] ISO 8608: on roads, waves up to 10 cycle/m are felt through a tyre; a profile sampled at 0.25 m, the coarsest
   that the roughness index is defined for (World Bank Technical Paper 46), carries 2 cycle/m.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.roads.opencrg import is_grid, read_grid
from tussock.mechanics.table_text import TableError, Wanted, read_table

COARSEST = 0.25  # [m] [2]_
_METRES = {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "in": 0.0254, "ft": 0.3048}
_COLUMNS = {
    "distance": Wanted(words=("distance", "chainage", "station"), units={"m": 1.0, "km": 1e3, "ft": 0.3048}),
    "left": Wanted(words=("left", "left track", "left height"), units=_METRES),
    "right": Wanted(words=("right", "right track", "right height"), units=_METRES),
}
_EXAMPLE = "distance [m]; left [mm]; right [mm]"
_MOST_PROBLEMS = 20


@dataclass(frozen=True, kw_only=True, eq=False)
class MeasuredRoad:
    """A road as measured.

    Attributes
    ----------
    name : str
        Of the file, for messages.
    distance : array (n,)
        Along the road, rising, at most 0.25 m apart [m].
    heights : array (n, m)
        [m]; left and right track of a profile, or the lines of a surface. A surface may hold NaN beside the tracks.
    across : array (m,) or None
        Places of a surface's lines, left of its reference line positive, rising [m]; None for two tracks.
    """

    name: str
    distance: Floats
    heights: Floats
    across: Floats | None = None

    def __post_init__(self) -> None:
        """Refuse distances that do not rise or lie too far apart."""
        problems = spacing_problems(self.distance, [f"point {i + 1}" for i in range(self.distance.size)])
        if problems:
            raise TableError(self.name, problems)

    @property
    def length(self) -> float:
        """Distance from the first to the last point [m]."""
        return float(self.distance[-1] - self.distance[0])


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """A stretch of a measured road that a section is driven on.

    Attributes
    ----------
    road : MeasuredRoad
        As measured.
    start : float
        Where the section starts, from the start of the measurement [m].
    offset : float
        Of the vehicle's middle to the left of a surface's reference line [m]; 0 for a profile of two tracks.
    """

    road: MeasuredRoad
    start: float = 0.0
    offset: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a place that is not on the road."""
        if not (np.isfinite(self.start) and self.start >= 0.0):
            raise DomainError(f"{self.road.name}: a section starts at 0 m of it or later, not at {self.start:g} m")
        if self.road.across is None and self.offset != 0.0:
            raise DomainError(f"{self.road.name}: it holds two wheel tracks only; an offset is for a surface")

    def check(self, length: float) -> None:
        """Refuse a section longer than what was measured from the start on."""
        if self.start + length > self.road.length * (1.0 + 1e-9):
            raise DomainError(
                f"{self.road.name}: {self.road.length:.2f} m were measured; a section from {self.start:g} m over "
                f"{length:g} m does not fit"
            )

    def tracks(self, distance: Floats, *, track: float) -> tuple[Floats, Floats]:
        """Return the heights of left and right track at distances from the section's start [m].

        Between its points the profile is a cubic spline (continuous curvature). Where it was measured more finely
        than asked for, each height is the mean over its own piece, so that no fine wave returns as a long one.
        The curvature of a surface's reference line is passed over: the road is driven as if straight.

        Parameters
        ----------
        distance : array (n,)
            Evenly spaced, from 0 [m].
        track : float
            Distance between the wheel tracks [m]; a profile has its own.

        Raises
        ------
        DomainError
            For a track beyond the surface's edge or over a hole in it.
        """
        road = self.road
        if road.across is None:
            left, right = road.heights[:, 0], road.heights[:, 1]
        else:
            left, right = (
                self._line(side, self.offset + sign * 0.5 * track, distance[-1])
                for side, sign in (("left", 1.0), ("right", -1.0))
            )
        return self._resampled(left, distance), self._resampled(right, distance)

    def _line(self, side: str, place: float, length: float) -> Floats:
        """Return the heights along one line of a surface (n,)."""
        road, across = self.road, self.road.across
        assert across is not None
        low, high = float(across[0]), float(across[-1])
        if not low - 1e-9 <= place <= high + 1e-9:
            raise DomainError(
                f"{road.name}: the {side} wheels run {place:g} m left of the reference line, where nothing was "
                f"measured; it covers {low:g} to {high:g} m, so an offset near {0.5 * (low + high):g} m may fit"
            )
        i = min(max(int(np.searchsorted(across, place, side="right")) - 1, 0), across.size - 2)
        share = (place - across[i]) / (across[i + 1] - across[i])
        line = road.heights[:, i] * (1.0 - share) if share < 1.0 else 0.0 * road.heights[:, i + 1]
        line = np.asarray(line + share * road.heights[:, i + 1] if share > 0.0 else line)
        along = road.distance - road.distance[0]
        needed = (along >= self.start - COARSEST) & (along <= self.start + length + COARSEST)
        holes = np.flatnonzero(needed & ~np.isfinite(line))
        if holes.size:
            raise DomainError(
                f"{road.name}: {holes.size} points under the {side} wheels hold no height, the first at "
                f"{along[holes[0]]:.2f} m; fill them in, or choose another start or offset"
            )
        return line

    def _resampled(self, heights: Floats, distance: Floats) -> Floats:
        along = self.road.distance - self.road.distance[0]
        at, step = distance + self.start, float(distance[1] - distance[0])
        good = np.isfinite(heights)
        curve = CubicSpline(along[good], heights[good])
        if float(np.median(np.diff(along))) >= 0.75 * step:
            return np.asarray(curve(np.minimum(at, along[-1])))
        area = curve.antiderivative()
        low = np.clip(at - 0.5 * step, 0.0, along[-1] - step)  # whole pieces at the ends too
        return np.asarray((area(low + step) - area(low)) / step)


def read_road(raw: bytes, name: str) -> MeasuredRoad:
    """Read a file's bytes: ASAM OpenCRG, or text with the columns distance, left and right and a unit in each title.

    Raises
    ------
    TableError
        With everything that is wrong, line by line where it is text.
    """
    if is_grid(raw):
        distance, across, heights = read_grid(raw, name)
        if across.size < 2:
            raise TableError(name, ["it holds one line along the road; two wheel tracks need at least two"])
        return MeasuredRoad(name=name, distance=distance, heights=heights, across=across)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise TableError(
            name, [f"neither OpenCRG nor UTF-8 text: byte {error.start} is 0x{raw[error.start]:02x}"]
        ) from None
    table = read_table(text, name, _COLUMNS, example=_EXAMPLE)
    distance = table.columns["distance"]
    problems = spacing_problems(distance, [f"line {line}" for line in table.line.tolist()])
    if problems:
        raise TableError(name, problems)
    return MeasuredRoad(
        name=name, distance=distance, heights=np.stack([table.columns["left"], table.columns["right"]], axis=1)
    )


def spacing_problems(distance: Floats, places: list[str]) -> list[str]:
    """Return what is wrong with the distances of a measurement, in words; `places` names each point."""
    if distance.size < 16:
        return [f"{distance.size} points; a measured road has at least 16"]
    if not np.all(np.isfinite(distance)):
        return [f"{places[int(np.argmin(np.isfinite(distance)))]}: the distance is not a number"]
    gap = np.diff(distance)
    problems = [
        f"{places[i + 1]}: distance {distance[i + 1]:g} m does not rise above {distance[i]:g} m before it"
        if gap[i] <= 0.0
        else f"{places[i + 1]}: {gap[i]:g} m after the point before it; points lie at most {COARSEST:g} m apart"
        for i in np.flatnonzero((gap <= 0.0) | (gap > COARSEST * (1.0 + 1e-9)))
    ]
    if len(problems) > _MOST_PROBLEMS:
        problems = [*problems[:_MOST_PROBLEMS], f"and {len(problems) - _MOST_PROBLEMS} more like these"]
    return problems
