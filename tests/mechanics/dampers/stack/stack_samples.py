"""Invented stacks for the tests (the rescue wagon Tarn's damper is invented too)."""

from __future__ import annotations

from collections.abc import Sequence

from tussock.mechanics.dampers.stack import Disc, Material, Port, Stack

STEEL = Material(youngs_modulus=206e9, poisson_ratio=0.3, density=7850.0, fatigue_strength=800e6)
MM = 1e-3


def discs(radii: Sequence[float], thickness: Sequence[float] | float) -> tuple[Disc, ...]:
    """Discs of one steel from millimetres."""
    each = [thickness] * len(radii) if isinstance(thickness, int | float) else thickness
    return tuple(Disc(radius=r * MM, thickness=t * MM, material=STEEL) for r, t in zip(radii, each, strict=True))


def stack(
    radii: Sequence[float],
    thickness: Sequence[float] | float = 0.2,
    *,
    clamp: float = 5.0,
    port: tuple[float, float] = (8.0, 12.0),
    **more: object,
) -> Stack:
    """A stack from millimetres; `more` as `Stack` takes it, in SI."""
    ports = (Port(inner=port[0] * MM, outer=port[1] * MM),)
    return Stack(discs=discs(radii, thickness), clamp_radius=clamp * MM, ports=ports, **more)  # type: ignore[arg-type]


TAPERED = stack([15 - 0.6 * k for k in range(12)])
EQUAL = stack([14.0] * 12)
CROSS_OVER = stack([15, 15, 9] + [14 - 0.5 * k for k in range(9)], [0.2, 0.2, 0.1] + [0.2] * 9)
