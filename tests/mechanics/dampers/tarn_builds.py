"""Invented damper builds of the invented rescue wagon (Tarn), shared by the tests. No figure belongs to a product."""

from __future__ import annotations

from dataclasses import replace

from tussock.mechanics.dampers.assembly import (
    Bleed,
    Body,
    DamperBuild,
    PlateValve,
    Ports,
    StackValve,
    Valving,
)
from tussock.mechanics.dampers.hydraulics import Oil
from tussock.mechanics.dampers.stack import Disc, Material

STEEL = Material(youngs_modulus=206e9, poisson_ratio=0.3, density=7850.0, fatigue_strength=800e6)
OIL = Oil(viscosities=((313.15, 14e-6), (373.15, 3.6e-6)), density=865.0, name="Tarn oil")
MM = 1e-3


def discs(*each: tuple[float, float]) -> tuple[Disc, ...]:
    """Discs of (thickness, outer diameter) [mm], from the seat."""
    return tuple(Disc(radius=0.5 * d * MM, thickness=t * MM, material=STEEL) for t, d in each)


REBOUND = discs((0.20, 28), (0.20, 28), (0.20, 24), (0.20, 20), (0.20, 16))


def rebound(stack: tuple[Disc, ...] = REBOUND, **changes: object) -> StackValve:
    """The piston's rebound valve."""
    fields: dict[str, object] = {
        "discs": stack, "clamp": 6 * MM, "seat": 13 * MM, "seat_height": 0.15 * MM,
        "ports": Ports(count=6, diameter=3.5 * MM, length=8 * MM, circle=10 * MM, recess=(8 * MM, 12 * MM)),
    } | changes  # fmt: skip
    return StackValve(**fields)  # type: ignore[arg-type]


def compression() -> StackValve:
    """The piston's compression valve, with a spacer in the stack."""
    return StackValve(
        discs=discs((0.15, 29), (0.15, 24), (0.10, 11), (0.20, 18)),
        clamp=6 * MM,
        seat=13.5 * MM,
        seat_height=0.05 * MM,
        ports=Ports(count=6, diameter=4 * MM, length=8 * MM, circle=10.5 * MM, recess=(8 * MM, 12.5 * MM)),
    )


def foot() -> Valving:
    """The foot valve: a small stack and a sprung intake plate."""
    return Valving(
        compression=StackValve(
            discs=discs((0.15, 20), (0.15, 20), (0.15, 16), (0.15, 12)),
            clamp=4 * MM,
            seat=9 * MM,
            seat_height=0.10 * MM,
            ports=Ports(count=4, diameter=2.5 * MM, length=6 * MM, circle=6.5 * MM, recess=(5 * MM, 8 * MM)),
        ),
        rebound=PlateValve(
            ports=Ports(count=8, diameter=4 * MM, length=5 * MM, circle=12 * MM),
            seat=14.5 * MM,
            rate=800.0,
            preload=0.8,
            stop=1.5 * MM,
        ),
        bleed=(Bleed(diameter=0.8 * MM),),
    )


BODY = Body(
    architecture="twin_tube",
    bore=35 * MM,
    rod=18 * MM,
    stroke=234 * MM,
    length=335 * MM,
    oil=OIL,
    oil_volume=430e-6,
    gas_pressure=0.53e6,
    tube_bore=51 * MM,
    wall=1.5 * MM,
)


def twin(**changes: object) -> DamperBuild:
    """The invented twin-tube as a build."""
    base = DamperBuild(
        body=BODY,
        piston=Valving(compression=compression(), rebound=rebound(), bleed=(Bleed(diameter=1.2 * MM, count=2),)),
        foot=foot(),
        name="Tarn front",
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def mono() -> DamperBuild:
    """The same piston in a mono-tube."""
    body = replace(
        BODY, architecture="mono_tube", tube_bore=None, length=420 * MM, oil_volume=290e-6, gas_pressure=2.5e6,
        upper_length=130 * MM,
    )  # fmt: skip
    return replace(twin(), body=body, foot=None, name="Tarn mono")
