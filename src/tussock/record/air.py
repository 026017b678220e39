"""What the air sees of a vehicle, stock and with a fit-out on it."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from tussock.record.base import Frozen
from tussock.record.fields import quantity
from tussock.record.units import Quantity

FrontalArea = Annotated[Quantity, quantity("area", example="2.9 m^2", above=0.0, plausible=("0.8 m^2", "12 m^2"))]
Coefficient = Annotated[Quantity, quantity("ratio", example="1.0", above=0.0, plausible=("0.05", "6"))]
Moment = Annotated[Quantity, quantity("ratio", example="0.12", plausible=("-1", "2"))]
BodyHeight = Annotated[Quantity, quantity("length", example="1900 mm", above=0.0, plausible=("0.8 m", "4 m"))]

FRONTAL_SHARE = 0.85
"""Of width times height that a body fills from the front; common practice, no source."""


class Air(Frozen):
    """Coefficients by SAE J1594 at 20 deg of wind, moments about the middle of the wheelbase on the ground.

    The defaults stand for a boxy body and come from memory, unconfirmed: side force 0.05 per degree (0.045 to 0.06),
    yaw moment 0.006 (0.004 to 0.009), roll moment 0.018 (0.018 to 0.04).
    """

    frontal_area: FrontalArea | None = Field(
        default=None, description="left out: 0.85 of body width times height, common practice"
    )
    height: BodyHeight | None = Field(default=None, description="of the highest part; left out: the roof's")
    side_force: Coefficient = Field(
        default=Quantity(si=1.0, text="1.0"), description="coefficient at 20 deg; 1.0 from memory, unconfirmed"
    )
    yaw_moment: Moment = Field(
        default=Quantity(si=0.12, text="0.12"),
        description="coefficient at 20 deg, turning the nose off the wind; 0.12 from memory, unconfirmed",
    )
    roll_moment: Moment = Field(
        default=Quantity(si=0.36, text="0.36"),
        description="coefficient at 20 deg, leaning off the wind; 0.36 from memory, unconfirmed",
    )
    drag: Coefficient = Field(
        default=Quantity(si=0.45, text="0.45"), description="coefficient straight ahead; 0.45 common practice"
    )
