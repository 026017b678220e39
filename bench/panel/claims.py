"""What an adviser claims of builds, and what that was worth: intervals, chances, whether it said it cannot tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np
from scipy.special import ndtr

from panel.builds import Build
from panel.truth import Panel

_NINETY = 1.6449  # half a 90 % interval of a normal distribution, in standard deviations


@dataclass(frozen=True, kw_only=True)
class Claims:
    """Claims after some drives.

    Attributes
    ----------
    drive : int
        After how many drives.
    incumbent : Build
        With which builds are compared.
    far, near : sequence of (Build, mean, standard deviation)
        Of the difference to the incumbent; random safe builds, and safe builds one step of one adjuster away.
    unsure : bool
        Whether it says that there is not enough evidence.
    proposal : Build or None
        What it would drive next.
    """

    drive: int
    incumbent: Build
    far: Sequence[tuple[Build, float, float]]
    near: Sequence[tuple[Build, float, float]]
    unsure: bool
    proposal: Build | None

    def against(self, panel: Panel) -> dict[str, object]:
        """Return what of it was true."""
        here = float(panel.true([self.incumbent])[0])
        out: dict[str, object] = {"drive": self.drive, "unsure": self.unsure}
        chances = []
        for name, told in (("far", self.far), ("near", self.near)):
            builds = [b for b, _, _ in told]
            true = panel.true(builds) - here
            mean, spread = (np.array([t[i] for t in told]) for i in (1, 2))
            out[name] = [bool(hit) for hit in np.abs(true - mean) <= _NINETY * spread]
            out[f"{name}_z"] = [round(float(z), 3) for z in (true - mean) / np.maximum(spread, 1e-9)]
            chances += [(round(float(c), 3), bool(t > 0.0)) for c, t in zip(_chance(mean, spread), true, strict=True)]
        out["chances"] = chances
        new = self.proposal if self.proposal != self.incumbent else None
        out["beats"] = None if new is None else bool(panel.true([new])[0] > here)
        return out


def _chance(mean: np.ndarray, spread: np.ndarray) -> np.ndarray:
    return np.asarray(ndtr(mean / np.maximum(spread, 1e-9)))


@runtime_checkable
class Claimer(Protocol):
    """A method that says how sure it is."""

    def claims(self, far: Sequence[Build], drive: int) -> Claims:
        """Return claims of far builds and of the incumbent's neighbours."""
