"""Roads: random surfaces of ISO 8608, obstacles, sections, and what a road's roughness is."""

from tussock.mechanics.roads.features import FEATURES, PUBLISHED_HUMPS, parameters
from tussock.mechanics.roads.random_road import CLASS_MEAN, class_of, coherence, random_heights
from tussock.mechanics.roads.roughness import displacement_density, fit_class, roughness_index
from tussock.mechanics.roads.section import Feature, Section, build, section_seed
from tussock.mechanics.roads.track import Track

__all__ = [
    "CLASS_MEAN",
    "FEATURES",
    "PUBLISHED_HUMPS",
    "Feature",
    "Section",
    "Track",
    "build",
    "class_of",
    "coherence",
    "displacement_density",
    "fit_class",
    "parameters",
    "random_heights",
    "roughness_index",
    "section_seed",
]
