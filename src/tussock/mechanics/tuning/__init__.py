"""What drivers' verdicts say: probabilities of verdicts, the window of one adjuster, and what drivers prefer."""

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
    "Comparison",
    "Evidence",
    "PairVerdict",
    "Preference",
    "PreferencePrior",
    "Rating",
    "Step",
    "VerdictScale",
    "Window",
    "WindowPrior",
    "drive_weight",
    "fit_preference",
    "fit_window",
    "log_posterior",
]
