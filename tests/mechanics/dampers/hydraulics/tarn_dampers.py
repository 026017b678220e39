"""Invented dampers of the invented rescue wagon (Tarn), shared by the tests. No figure belongs to a real product."""

from __future__ import annotations

import numpy as np

from tussock.mechanics.dampers.hydraulics import (
    BandGap,
    Damper,
    DiscValve,
    Hose,
    MonoTube,
    Oil,
    Orifice,
    RemoteReservoir,
    TwinTube,
    ValveSet,
)

OIL = Oil(viscosities=((313.15, 14e-6), (373.15, 3.6e-6)), density=865.0, name="Tarn oil")


def disc_valve(
    *, opening: float, firmness: float, port: float = 60e-6, jet: float = 0.2, name: str = "valve"
) -> DiscValve:
    """A digressive lift table: 0.4 mm at `firmness` [Pa] above opening, stiffening."""
    pressure = opening + np.linspace(0.0, 4.0, 25) * firmness
    lift = 0.4e-3 * (np.linspace(0.0, 4.0, 25)) ** 0.8
    return DiscValve(
        port=Orifice.round(diameter=(4.0 * port / (4 * np.pi)) ** 0.5, count=4, length=0.008),
        seat_diameter=0.022, pressure=pressure, lift=lift, opening_pressure=opening, jet_coefficient=jet, name=name,
    )  # fmt: skip


def check_valve(*, name: str = "intake") -> DiscValve:
    """A soft check plate."""
    return DiscValve.from_spring(
        port=Orifice.round(diameter=0.0045, count=6, length=0.004), seat_diameter=0.022, rate=800.0, preload=0.8,
        stop=0.0015, name=name,
    )  # fmt: skip


def piston(*, firmness: float = 1.5e6, bore: float = 0.035) -> ValveSet:
    """Piston with soft compression, firm rebound, bleed and band."""
    return ValveSet(
        compression=disc_valve(opening=0.05e6, firmness=0.25 * firmness, port=90e-6, name="piston compression"),
        rebound=disc_valve(opening=0.5e6, firmness=firmness, name="piston rebound"),
        bleed=(Orifice(area=2.0e-6, count=2, length=0.001),),
        band=BandGap(diameter=bore, gap=0.03e-3, length=0.010),
        name="piston",
    )


def twin(**changes: object) -> TwinTube:
    """The invented twin-tube."""
    fields: dict[str, object] = {
        "bore": 0.035, "rod": 0.018, "stroke": 0.220, "length": 0.320, "oil": OIL, "tube_bore": 0.051,
        "piston": piston(),
        "foot": ValveSet(
            compression=disc_valve(opening=0.3e6, firmness=1.0e6, port=40e-6, name="foot compression"),
            rebound=check_valve(), bleed=(Orifice(area=0.8e-6, length=0.001),), name="foot valve",
        ),
        "oil_volume": 430e-6, "gas_pressure": 0.5e6, "friction": 30.0, "name": "Tarn twin-tube",
    } | changes  # fmt: skip
    return TwinTube(**fields)  # type: ignore[arg-type]


def mono(**changes: object) -> MonoTube:
    """The invented mono-tube."""
    fields: dict[str, object] = {
        "bore": 0.046, "rod": 0.018, "stroke": 0.200, "length": 0.400, "upper_length": 0.115,
        "oil": OIL, "piston": piston(bore=0.046),
        "oil_volume": 400e-6, "gas_pressure": 2.5e6, "friction": 40.0, "name": "Tarn mono-tube",
    } | changes  # fmt: skip
    return MonoTube(**fields)  # type: ignore[arg-type]


def remote(**changes: object) -> MonoTube:
    """The invented mono-tube with a remote reservoir."""
    reservoir = RemoteReservoir(
        bore=0.050, length=0.200,
        valves=ValveSet(
            compression=disc_valve(opening=0.2e6, firmness=1.0e6, port=30e-6, name="reservoir compression"),
            rebound=check_valve(), bleed=(Orifice(area=1.5e-6, length=0.002),), name="reservoir",
        ),
        hose=Hose(diameter=0.010, length=0.40),
    )  # fmt: skip
    return mono(remote=reservoir, oil_volume=650e-6, gas_pressure=1.5e6, name="Tarn remote", **changes)


def random_build(rng: np.random.Generator) -> Damper:
    """Return one build drawn over more than any workshop would."""

    def between(low: float, high: float) -> float:
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    def valve() -> DiscValve:
        return disc_valve(
            opening=between(1e3, 5e6), firmness=between(1e4, 2e7), port=between(5e-6, 3e-4), jet=rng.uniform(0.0, 0.3)
        )

    def valves(*, band: bool) -> ValveSet:
        return ValveSet(
            compression=valve() if rng.random() < 0.9 else None,
            rebound=valve() if rng.random() < 0.9 else None,
            bleed=(Orifice(area=between(1e-7, 2e-5), length=between(1e-4, 1e-2)),),
            band=BandGap(diameter=0.04, gap=between(2e-6, 1e-4), length=0.01) if band else None,
        )

    pressure = between(0.12e6, 5e6)
    kind = rng.integers(3)
    if kind == 0:
        return twin(piston=valves(band=True), foot=valves(band=False), gas_pressure=pressure)
    return (mono if kind == 1 else remote)(piston=valves(band=rng.random() < 0.5))
