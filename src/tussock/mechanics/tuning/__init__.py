"""What drivers' verdicts say: probabilities of verdicts, the window of one adjuster, and what drivers prefer."""

from tussock.mechanics.tuning.advise import Advice, advise
from tussock.mechanics.tuning.belief import Belief, BeliefPrior, Drives, fit_belief
from tussock.mechanics.tuning.emulator import Attribute, Emulator
from tussock.mechanics.tuning.lattice import Lattice, NotBelow, Point, point_of
from tussock.mechanics.tuning.preference import (
    OVERALL,
    Evidence,
    PairVerdict,
    Preference,
    PreferencePrior,
    Rating,
    fit_preference,
    log_posterior,
)
from tussock.mechanics.tuning.verdicts import VERDICTS, VerdictScale
from tussock.mechanics.tuning.window import Comparison, Step, Window, WindowPrior, drive_weight, fit_window

__all__ = [
    "OVERALL",
    "VERDICTS",
    "Advice",
    "Attribute",
    "Belief",
    "BeliefPrior",
    "Comparison",
    "Drives",
    "Emulator",
    "Evidence",
    "Lattice",
    "NotBelow",
    "PairVerdict",
    "Point",
    "Preference",
    "PreferencePrior",
    "Rating",
    "Step",
    "VerdictScale",
    "Window",
    "WindowPrior",
    "advise",
    "drive_weight",
    "fit_belief",
    "fit_preference",
    "fit_window",
    "log_posterior",
    "point_of",
]
