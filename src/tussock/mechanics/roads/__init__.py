"""Roads: random surfaces of ISO 8608, obstacles, sections, and what a road's roughness is."""

from tussock.mechanics.roads.features import FEATURES, PARAMETERS, FeatureParameter, parameters
from tussock.mechanics.roads.humps import PUBLISHED_HUMPS, PublishedHump, published_hump
from tussock.mechanics.roads.iri import expected_index, golden_car, rectified_slope, roughness_index
from tussock.mechanics.roads.measured import MeasuredRoad, Stretch, read_road
from tussock.mechanics.roads.pace import Pace, SpeedChange, pace
from tussock.mechanics.roads.psd import RoadFit, displacement_density, fit_road, track_coherence
from tussock.mechanics.roads.random_road import CLASS_MEAN, class_of, coherence, random_heights
from tussock.mechanics.roads.section import Feature, Section, build, section_seed
from tussock.mechanics.roads.track import Track

__all__ = [
    "CLASS_MEAN",
    "FEATURES",
    "PARAMETERS",
    "PUBLISHED_HUMPS",
    "Feature",
    "FeatureParameter",
    "MeasuredRoad",
    "Pace",
    "PublishedHump",
    "RoadFit",
    "Section",
    "SpeedChange",
    "Stretch",
    "Track",
    "build",
    "class_of",
    "coherence",
    "displacement_density",
    "expected_index",
    "fit_road",
    "golden_car",
    "pace",
    "parameters",
    "published_hump",
    "random_heights",
    "read_road",
    "rectified_slope",
    "roughness_index",
    "section_seed",
    "track_coherence",
]
