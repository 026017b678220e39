"""What a data logger in the vehicle recorded: read, judged, cut by road section, turned into spectra."""

from tussock.mechanics.logger.faults import Fault, even, faults, spikes
from tussock.mechanics.logger.recording import (
    LoggerError,
    Recording,
    Series,
    Wire,
    read_csv,
    read_mdf,
    read_recording,
)
from tussock.mechanics.logger.sections import (
    Gate,
    Piece,
    clock_offset,
    cut_by_gates,
    cut_by_marks,
    ground_distance,
)
from tussock.mechanics.logger.spectra import (
    Spectrum,
    Transfer,
    averages,
    band_power,
    cross_spectra,
    octave_bands,
    spectrum,
    transfer,
)

__all__ = [
    "Fault",
    "Gate",
    "LoggerError",
    "Piece",
    "Recording",
    "Series",
    "Spectrum",
    "Transfer",
    "Wire",
    "averages",
    "band_power",
    "clock_offset",
    "cross_spectra",
    "cut_by_gates",
    "cut_by_marks",
    "even",
    "faults",
    "ground_distance",
    "octave_bands",
    "read_csv",
    "read_mdf",
    "read_recording",
    "spectrum",
    "spikes",
    "transfer",
]
