"""How much a damper's oil column yields: one stiffness in series with its valves, for the motion of a vehicle."""

from __future__ import annotations

import math

from tussock.errors import DomainError
from tussock.mechanics.dampers.hydraulics.architecture import Damper
from tussock.mechanics.dampers.hydraulics.chambers import OilLaw


def oil_column_stiffness(damper: Damper, *, rebound: float, temperature: float) -> float:
    """Return the stiffness of the oil above the piston in mid-stroke, its air included [N/m].

    F^2 / (dp dV): the drop dp = F / annulus takes dV of oil into the chamber above the piston beyond what the rod
    displaces. Oil alone gives B A^2 / V [1]_. That chamber makes the rebound force, by far the greater one, and in a
    mono-tube compression as well. What yields besides (tube walls, hoses, the chamber of a foot valve in compression)
    is left out, and that discs lag. Over strokes of 6 to 100 mm the steady curve in series with it comes within 22 % of
    the hysteresis of `cycle` and misses its force by a third to a half of what the curve alone does.

    Parameters
    ----------
    damper : Damper
        The damper.
    rebound : float
        Size of the hydraulic rebound force for which it is wanted, above 0 [N]; the oil stiffens with it as its air is
        squeezed.
    temperature : float
        Of the oil [K].

    References
    ----------
    .. [1] Surace, Worden, Tomlinson, On the non-linear characteristics of automotive shock absorbers, Proc. IMechE D
       206 (1992) 3-16: compressibility opens the loop (from memory).
    """
    if not (math.isfinite(rebound) and rebound > 0.0):
        raise DomainError(f"{damper.name}: a rebound force of {rebound:g} N; it must be above 0")
    law = OilLaw(damper.oil, temperature=temperature)
    gas = damper.gas_pressure_at(temperature=temperature)
    drop = rebound / damper.annulus_area
    taken = damper.rebound_volume() * (1.0 - law.volume(gas + drop) / law.volume(gas))
    return rebound**2 / (drop * taken)
