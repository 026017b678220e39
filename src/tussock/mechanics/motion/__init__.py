"""Motion of the full vehicle: equations, rest, runs over roads, linear twin, closed forms."""

from tussock.mechanics.motion.closed_forms import (
    BouncePitch,
    MeanSquares,
    QuarterCar,
    bounce_pitch,
    least_acceleration_damping,
    least_tyre_damping,
    mean_squares,
    quarter_car_modes,
    road_intensity,
)
from tussock.mechanics.motion.damper_parts import DamperParts
from tussock.mechanics.motion.frame import Frame
from tussock.mechanics.motion.linear import LinearModel, Mode, Row, linearise
from tussock.mechanics.motion.linear_friction import MotionSize, equivalent_slope
from tussock.mechanics.motion.linear_response import input_response, path_response, road_response
from tussock.mechanics.motion.linear_roads import RoadNoise, RoadTwin, road_motion, road_rms, road_spectrum, road_twin
from tussock.mechanics.motion.ramp import RAMP_ANGLE, RampTravel, ramp_travel
from tussock.mechanics.motion.rest import Rest, Still, settle
from tussock.mechanics.motion.road_input import road_inputs
from tussock.mechanics.motion.simulate import STEP, History, march, simulate
from tussock.mechanics.motion.springing import Springing, springing
from tussock.mechanics.motion.steady_bend import (
    Cornering,
    SteadyBend,
    UndersteerShares,
    cornering,
    steady_bend,
    understeer_shares,
)
from tussock.mechanics.motion.steering import Give, Steering
from tussock.mechanics.motion.vehicle import AxleParts, Packed, Vehicle, pack
from tussock.mechanics.motion.workspace import Workspace

__all__ = [
    "RAMP_ANGLE",
    "STEP",
    "AxleParts",
    "BouncePitch",
    "Cornering",
    "DamperParts",
    "Frame",
    "Give",
    "History",
    "LinearModel",
    "MeanSquares",
    "Mode",
    "MotionSize",
    "Packed",
    "QuarterCar",
    "RampTravel",
    "Rest",
    "RoadNoise",
    "RoadTwin",
    "Row",
    "Springing",
    "SteadyBend",
    "Steering",
    "Still",
    "UndersteerShares",
    "Vehicle",
    "Workspace",
    "bounce_pitch",
    "cornering",
    "equivalent_slope",
    "input_response",
    "least_acceleration_damping",
    "least_tyre_damping",
    "linearise",
    "march",
    "mean_squares",
    "pack",
    "path_response",
    "quarter_car_modes",
    "ramp_travel",
    "road_inputs",
    "road_intensity",
    "road_motion",
    "road_response",
    "road_rms",
    "road_spectrum",
    "road_twin",
    "settle",
    "simulate",
    "springing",
    "steady_bend",
    "understeer_shares",
]
