"""What a programme says a damper should be: its attached sweep, its rated points, and what its valves compute to."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from tussock.errors import InputError
from tussock.studies.damper_builds import computed_curve, dyno_temperature, is_buildable
from tussock.studies.display import show
from tussock.studies.dyno import Reference
from tussock.studies.job import ENDS, STOCK, Job


def damper_names(job: Job) -> dict[str, Any]:
    """Return every damper of a programme by the name that `references` takes; stock ones as "stock front"."""
    found: dict[str, Any] = {f"{STOCK} {end}": job.programme.vehicle.axles[end].damper for end in ENDS}
    return found | dict(job.programme.kit.dampers)


def references(job: Job, name: str, *, temperature: float | None = None) -> tuple[Reference, ...]:
    """Return what units of a damper are held against, the measured first.

    Parameters
    ----------
    job : Job
        The programme.
    name : str
        Of the damper, as `damper_names` has it.
    temperature : float, optional
        Oil temperature of the prediction [K], such as the sweep's own; else that of the
        attached sweep, else the road loop's.

    Returns
    -------
    tuple of Reference
        The attached sweep or the rated points, and the prediction from the valves. The prediction alone is judged by
        the production band only when nothing was measured.

    Raises
    ------
    InputError
        For a name that the programme does not have, or a damper of which it says nothing.
    """
    every = damper_names(job)
    if name not in every:
        raise InputError(f"there is no damper {name!r}; the programme has {', '.join(every)}")
    damper = every[name]
    found: list[Reference] = []
    if damper.dyno is not None:
        found.append(Reference(title=f"{name}'s sweep {damper.dyno}", unit=job.dyno_tests[damper.dyno]))
    elif damper.curve is not None:
        found.append(Reference(title=f"{name}'s rated points", unit=job.measured_curve(damper)))
    if is_buildable(damper):
        kelvin = dyno_temperature(job, damper) if temperature is None else temperature
        curve = replace(computed_curve(job, damper, name, temperature=kelvin), name=f"prediction for {name}")
        title = f"the prediction for {name} at {show(kelvin, 'temperature')}"
        found.append(Reference(title=title, unit=curve, judged=not found))
    if not found:
        raise InputError(f"the programme gives {name} no sweep, no points and no valves to hold a unit against")
    return tuple(found)
