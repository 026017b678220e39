"""What drivers' verdicts say: probabilities of verdicts, and the window of one adjuster that they leave open."""

from tussock.mechanics.tuning.verdicts import VERDICTS, VerdictScale
from tussock.mechanics.tuning.window import Comparison, Step, Window, WindowPrior, drive_weight, fit_window

__all__ = [
    "VERDICTS",
    "Comparison",
    "Step",
    "VerdictScale",
    "Window",
    "WindowPrior",
    "drive_weight",
    "fit_window",
]
