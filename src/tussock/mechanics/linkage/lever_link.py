"""A lever on the chassis moved by a link from the axle: height sensors and load-sensing brake valves.

The lever turns about an axis through its pivot; the link has a ball at both ends. With ``d`` from pivot to the link's
end on the axle, ``r`` the lever turned by the angle and ``k`` the link's length, ``|r - d| = k`` is one equation
``a cos(angle) + b sin(angle) = c`` with two roots: the assembly that was measured, and the one folded over.
Axes ISO 8855, stock pose at kerb height [m].
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats

_DEAD = math.radians(2.0)  # nearer to lever and link in one line than this, the measured assembly is not certain
ACROSS = (0.0, 1.0, 0.0)


@dataclass(frozen=True, kw_only=True)
class LeverLink:
    """Lever and link as measured.

    Parameters
    ----------
    pivot : array (3,)
        A point on the lever's axis, on the chassis [m].
    lever : array (3,)
        End of the lever, where the link hangs, in the measured pose [m].
    link : array (3,)
        End of the link on the axle, in the measured pose [m].
    axis : tuple of 3 float, optional
        Direction of the lever's axis; across the vehicle unless said.
    link_length : float, optional
        Between the balls of the link [m]; as measured, from `lever` to `link`, unless said.
    name : str, optional
        For messages.

    Raises
    ------
    DomainError
        If the lever or the link has no length, the axis no direction, or lever and link stand in one line.
    """

    pivot: Floats
    lever: Floats
    link: Floats
    axis: tuple[float, float, float] = ACROSS
    link_length: float | None = None
    name: str = "lever"

    def __post_init__(self) -> None:
        """Refuse what cannot turn."""
        if float(np.linalg.norm(self.axis)) < 1e-9:
            raise DomainError(f"{self.name}: the lever's axis has no direction")
        if self.lever_length < 1e-3:
            raise DomainError(
                f"{self.name}: the lever ends {self.lever_length * 1e3:.2f} mm from its axis; it needs 1 mm"
            )
        if self.length < 1e-3:
            raise DomainError(f"{self.name}: the link is {self.length * 1e3:.2f} mm long; it needs 1 mm at least")
        a, b, _ = (float(v[0]) for v in self._terms(self.link[None, :]))
        if abs(math.atan2(b, a)) < _DEAD or abs(math.atan2(b, -a)) < _DEAD:
            raise DomainError(
                f"{self.name}: lever and link stand in one line as measured; the lever could turn either way"
            )

    @property
    def _normal(self) -> Floats:
        n = np.asarray(self.axis, dtype=np.float64)
        n = n / float(np.linalg.norm(n))
        # the angle counts positive when the lever's end rises
        lift = np.cross(n, self.lever - self.pivot)[2]
        return np.asarray(-n if lift < 0.0 else n)

    @property
    def _across(self) -> tuple[Floats, Floats]:
        """Lever at a right angle to its axis, and its part along the axis."""
        n = self._normal
        arm = self.lever - self.pivot
        along = n * float(n @ arm)
        return np.asarray(arm - along), np.asarray(along)

    @property
    def lever_length(self) -> float:
        """Distance of the lever's end from its axis [m]."""
        n = np.asarray(self.axis, dtype=np.float64)
        return float(np.linalg.norm(np.cross(n, self.lever - self.pivot)) / np.linalg.norm(n))

    @property
    def length(self) -> float:
        """Length of the link between its balls [m]."""
        return float(np.linalg.norm(self.link - self.lever)) if self.link_length is None else self.link_length

    def _terms(self, link_end: Floats) -> tuple[Floats, Floats, Floats]:
        """Return a, b, c of ``a cos + b sin = c`` for places of the link's end (n, 3)."""
        out, along = self._across
        d = link_end - self.pivot
        a = d @ out
        b = d @ np.cross(self._normal, out)
        arm = self.lever - self.pivot
        c = 0.5 * (float(arm @ arm) + np.sum(d * d, axis=1) - self.length**2) - d @ along
        return np.asarray(a), np.asarray(b), np.asarray(c)

    def _shortfall(self, link_end: Floats) -> Floats:
        """Return what the link lacks, or has too much, to join the lever's circle to each place (n,) [m]."""
        d = link_end - self.pivot - self._across[1]
        aside = d @ self._normal
        inplane = np.sqrt(np.maximum(np.sum(d * d, axis=1) - aside**2, 0.0))
        far, near = (np.hypot(inplane + s * self.lever_length, aside) for s in (1.0, -1.0))
        return np.asarray(np.maximum(near - self.length, self.length - far))

    def reach(self, link_end: Floats) -> Floats:
        """Return how near the lever is to being pulled straight or folded, 0 far to 1 there [-].

        Parameters
        ----------
        link_end : array (n, 3)
            Where the link's end on the axle goes [m].

        Returns
        -------
        array (n,)
            Above 1 the link cannot reach.
        """
        a, b, c = self._terms(link_end)
        return np.asarray(np.abs(c) / np.hypot(a, b))

    def angles(self, link_end: Floats) -> Floats:
        """Return the lever's angle from the measured pose, end up positive.

        Parameters
        ----------
        link_end : array (n, 3)
            Where the link's end on the axle goes [m].

        Returns
        -------
        array (n,)
            [rad].

        Raises
        ------
        SolverError
            Where lever and link come into one line before that: the linkage locks or folds over. Says where.
        """
        a, b, c = self._terms(link_end)
        span = np.hypot(a, b)
        stuck = np.flatnonzero(np.abs(c) >= span)
        if stuck.size:
            short = float(np.max(self._shortfall(link_end)))
            raise SolverError(
                f"{self.name}: lever and link come into one line; {stuck.size} of {a.size} places cannot be reached, "
                f"the furthest by {short * 1e3:.1f} mm"
            )
        # as measured the angle is 0, so the root is the one on the other side of the line from pivot to link
        side = -math.copysign(1.0, float(self._terms(self.link[None, :])[1][0]))
        turn = np.arctan2(b, a) + side * np.arccos(c / span)
        return np.asarray((turn + math.pi) % (2.0 * math.pi) - math.pi)

    def lever_end(self, angle: float) -> Floats:
        """Return where the lever's end stands at an angle [rad], in [m]."""
        out, along = self._across
        turned = out * math.cos(angle) + np.cross(self._normal, out) * math.sin(angle)
        return np.asarray(self.pivot + along + turned)

    def link_for(self, link_end: Floats, *, angle: float = 0.0) -> float:
        """Return the length of link that puts the lever at an angle with the link's end at a place, in [m].

        Parameters
        ----------
        link_end : array (3,)
            [m].
        angle : float, optional
            [rad].
        """
        return float(np.linalg.norm(self.lever_end(angle) - link_end))

    def rise_for(self, link_end: Floats, *, angle: float = 0.0) -> float:
        """Return how far up the link's end on the axle must be set to put the lever at an angle, link kept [m].

        Of the two places on the link's sphere straight above and below each other, the one nearer to the present.

        Raises
        ------
        SolverError
            If the link is too short to reach the vertical through that place.
        """
        offset = link_end - self.lever_end(angle)
        aside = float(offset[0] ** 2 + offset[1] ** 2)
        square = self.length**2 - aside
        if square < 0.0:
            raise SolverError(
                f"{self.name}: no bracket straight up or down helps: the link of {self.length * 1e3:.1f} mm is "
                f"{(math.sqrt(aside) - self.length) * 1e3:.1f} mm too short"
            )
        rises = (-float(offset[2]) + math.sqrt(square), -float(offset[2]) - math.sqrt(square))
        return min(rises, key=abs)

    def with_link(self, length: float) -> LeverLink:
        """Return the same with a link of another length [m]; angles still count from the measured pose."""
        return replace(self, link_length=length)

    def with_lever(self, length: float, *, link: float) -> LeverLink:
        """Return the same with lever and link of other lengths [m]; angles still count from the measured direction."""
        out, _ = self._across
        return replace(self, lever=self.lever + out * (length / self.lever_length - 1.0), link_length=link)

    def lever_and_link(
        self, first: Floats, second: Floats, *, first_angle: float, second_angle: float
    ) -> tuple[float, float]:
        """Return the lengths of lever and link that give an angle at each of two places of the link's end [m].

        The lever keeps its direction. Both places put the link's length in ``|m r - d|``, whose difference is linear
        in the lever's scale m.

        Parameters
        ----------
        first, second : array (3,)
            Places of the link's end on the axle [m].
        first_angle, second_angle : float
            Lever angle wanted there, from the measured pose [rad].

        Raises
        ------
        SolverError
            If no positive length gives both.
        """
        out, along = self._across
        n = self._normal

        def arm(angle: float) -> Floats:
            return np.asarray(out * math.cos(angle) + np.cross(n, out) * math.sin(angle))

        one, two = first - self.pivot - along, second - self.pivot - along
        slope = 2.0 * float(arm(first_angle) @ one - arm(second_angle) @ two)
        gain = float(one @ one - two @ two)
        scale = gain / slope if abs(slope) > 1e-12 else math.nan
        if not scale > 0.0:
            raise SolverError(
                f"{self.name}: no length of the lever gives {math.degrees(first_angle):.2f} and "
                f"{math.degrees(second_angle):.2f} deg at the two places; their scale would be {scale:.3g}"
            )
        link = float(np.linalg.norm(scale * arm(first_angle) - one))
        return scale * self.lever_length, link
