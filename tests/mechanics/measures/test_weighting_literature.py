"""Weightings and their measuring chain against published tables.

1. ISO 2631-1:1997 Tables 3 and 4, one-third-octave factors times 1000, as transcribed publicly (its pages were not
   seen). Two entries are taken as misprints and left out by name: Wd at 10 Hz prints 212 (formula 201.7, the
   neighbours fit the formula), Wj at 4 Hz prints 528 (formula 628).
2. ISO 8041-1:2017 clause 5.9, Tables 6, 8, 9 as transcribed publicly: saw-tooth bursts, tolerance 10 %, VDV 12 %.
3. Weightings as a chain of analogue filters: SciPy's bilinear transform at 64 kHz as independent route.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.signal import bilinear_zpk, resample, sosfilt, tf2zpk, zpk2sos

from tussock.errors import DomainError
from tussock.mechanics.measures import (
    WC,
    WD,
    WE,
    WF,
    WJ,
    WK,
    rms,
    transient_peak,
    vibration_dose,
    weigh,
)

pytestmark = pytest.mark.literature

# Hz: Wk, Wd, Wc, We, Wj (source 1); None where the print is a misprint
TABLE = {
    0.1: (31.2, 62.4, 62.4, 62.5, 31.0), 0.125: (48.6, 97.3, 97.2, 97.5, 48.3), 0.16: (79.0, 158, 158, 159, 78.5),
    0.2: (121, 243, 243, 245, 120), 0.25: (182, 365, 364, 368, 181), 0.315: (263, 530, 527, 536, 262),
    0.4: (352, 713, 708, 723, 351), 0.5: (418, 853, 843, 862, 417), 0.63: (459, 944, 929, 939, 458),
    0.8: (477, 992, 972, 941, 478), 1: (482, 1011, 991, 880, 484), 1.25: (484, 1008, 1000, 772, 485),
    1.6: (494, 968, 1007, 632, 483), 2: (531, 890, 1012, 512, 482), 2.5: (631, 776, 1017, 409, 489),
    3.15: (804, 642, 1022, 323, 524), 4: (967, 512, 1024, 253, None), 5: (1039, 409, 1013, 202, 793),
    6.3: (1054, 323, 974, 160, 946), 8: (1036, 253, 891, 125, 1017), 10: (988, None, 776, 100, 1030),
    12.5: (902, 161, 647, 80.1, 1026), 16: (768, 125, 512, 62.5, 1018), 20: (636, 100, 409, 50.0, 1012),
    25: (513, 80.0, 325, 39.9, 1007), 31.5: (405, 63.2, 256, 31.6, 1001), 40: (314, 49.4, 199, 24.7, 991),
    50: (246, 38.8, 156, 19.4, 972), 63: (186, 29.5, 118, 14.8, 931), 80: (132, 21.1, 84.4, 10.5, 843),
}  # fmt: skip
FILTERS = (WK, WD, WC, WE, WJ)
CELLS = [
    (weighting, float(frequency), row[column])
    for column, weighting in enumerate(FILTERS)
    for frequency, row in TABLE.items()
    if row[column] is not None
]


def test_gain_agrees_with_the_print():
    """Source 1, every third octave from 0.1 to 80 Hz, to 0.6 % (rounding of the print and little more)."""
    assert len(CELLS) == 5 * len(TABLE) - 2
    for weighting, frequency, want in CELLS:
        got = 1e3 * float(weighting.gain(np.array([frequency]))[0])
        assert got == pytest.approx(want, rel=0.006), f"{weighting.name} at {frequency} Hz"


def test_the_two_misprints():
    """Source 1: what the formula gives where the print does not follow it."""
    assert 1e3 * WD.gain(np.array([10.0]))[0] == pytest.approx(201.7, abs=0.05)
    assert 1e3 * WJ.gain(np.array([4.0]))[0] == pytest.approx(628.1, abs=0.05)


WF_TABLE = {
    0.02: 24.2, 0.025: 37.7, 0.0315: 59.7, 0.04: 97.1, 0.05: 157, 0.063: 267, 0.08: 461, 0.1: 695, 0.125: 895,
    0.16: 1006, 0.2: 992, 0.25: 854, 0.315: 619, 0.4: 384, 0.5: 224, 0.63: 116, 0.8: 53.0, 1: 23.5, 1.25: 9.98,
    1.6: 3.77, 2: 1.55,
}  # fmt: skip


def test_motion_sickness_weighting():
    """Source 1, Wf: 0.6 %."""
    for frequency, want in WF_TABLE.items():
        assert 1e3 * WF.gain(np.array([frequency]))[0] == pytest.approx(want, rel=0.006), f"{frequency} Hz"


@pytest.mark.parametrize("rate", [1000.0, 200.0])
@pytest.mark.parametrize("weighting", FILTERS, ids=lambda w: w.name)
def test_filtered_sines_agree_with_the_print(weighting, rate):
    """Source 1, 0.5 to 80 Hz, measured on time histories through the filter as used, at 1 kHz and at 200 Hz: 0.7 %.

    The settled last part of a sine, whole periods by least squares.
    """
    for w, frequency, want in CELLS:
        if w is not weighting or frequency < 0.5:
            continue
        t = np.arange(round((12.0 + 8.0 / frequency) * rate)) / rate
        weighted = weigh(np.sin(2.0 * math.pi * frequency * t), 1.0 / rate, w)
        late = t > 12.0
        basis = np.stack([np.sin(2 * math.pi * frequency * t[late]), np.cos(2 * math.pi * frequency * t[late])])
        part = np.linalg.lstsq(basis.T, weighted[late], rcond=None)[0]
        assert 1e3 * math.hypot(*part) == pytest.approx(want, rel=0.007), f"{w.name} at {frequency} Hz"


# weighting: whole cycles in the burst (None: continuous): rms, VDV, MTVV linear, MTVV exponential (source 2)
BURSTS = {
    "Wk": {
        1: (0.0299, 0.323, 0.0944, 0.0922), 2: (0.0411, 0.380, 0.130, 0.125), 4: (0.0577, 0.455, 0.182, 0.171),
        8: (0.0814, 0.543, 0.257, 0.228), 16: (0.115, 0.648, 0.363, 0.289), None: (0.362, 1.15, 0.364, 0.363),
    },
    "Wd": {
        1: (0.00669, 0.0779, 0.0212, 0.0197), 4: (0.0116, 0.0923, 0.0366, 0.0330),
        16: (0.0197, 0.115, 0.0611, 0.0481), None: (0.0590, 0.197, 0.0611, 0.0594),
    },
    "Wc": {
        1: (0.0222, 0.244, 0.0703, 0.0684), 4: (0.0397, 0.318, 0.126, 0.117),
        16: (0.0770, 0.445, 0.243, 0.192), None: (0.240, 0.788, 0.243, 0.242),
    },
    "We": {
        1: (0.00342, 0.0409, 0.0108, 0.00992), 4: (0.00637, 0.0493, 0.0201, 0.0176),
        16: (0.0102, 0.0592, 0.0311, 0.0244), None: (0.0295, 0.0987, 0.0311, 0.0297),
    },
}  # fmt: skip
BURST_CASES = [(name, cycles) for name, rows in BURSTS.items() for cycles in rows]
BY_NAME = {w.name: w for w in FILTERS}


def saw_tooth(cycles: int | None, rate: float, *, duration: float = 60.0) -> np.ndarray:
    """Return the test signal: amplitude 1 m/s^2, 100 rad/s, bursts at 1, 11, 21 ... s."""
    t = np.arange(round(duration * rate)) / rate
    signal = np.zeros_like(t)
    for start in [0.0] if cycles is None else np.arange(1.0, duration, 10.0):
        phase = (t - start) * 100.0 / (2.0 * math.pi)
        inside = (phase >= 0.0) & (phase <= (math.inf if cycles is None else cycles))
        signal += np.where(inside, 2.0 * np.mod(phase + 0.5, 1.0) - 1.0, 0.0)
    return signal


@pytest.mark.parametrize("rate", [1000.0, 200.0])
@pytest.mark.parametrize(("name", "cycles"), BURST_CASES)
def test_saw_tooth_bursts(name, cycles, rate):
    """Source 2: the whole chain. The standard allows 10 % (VDV 12 %); held here to 2.5 %.

    At 200 Hz the signal is band-limited first, as any logger must: its vertical edge, sampled without, aliases.
    """
    if rate == 200.0:
        signal = np.asarray(resample(saw_tooth(cycles, 4000.0), 12000))
    else:
        signal = saw_tooth(cycles, rate)
    step = 1.0 / rate
    weighted = weigh(signal, step, BY_NAME[name])
    got = (
        rms(weighted),
        vibration_dose(weighted, step),
        transient_peak(weighted, step),
        transient_peak(weighted, step, exponential=True),
    )
    np.testing.assert_allclose(got, BURSTS[name][cycles], rtol=0.025)


def digital(weighting, rate):
    """Return second-order sections of a weighting's analogue brackets by the bilinear transform (source 3)."""
    sections = []
    w1, w2, w3, w4, w5, w6 = (
        2.0 * math.pi * f for f in (weighting.f1, weighting.f2, weighting.f3, weighting.f4, weighting.f5, weighting.f6)
    )
    q = 1.0 / math.sqrt(2.0)
    pairs = [([1.0, 0.0, 0.0], [1.0, w1 / q, w1**2]), ([w2**2], [1.0, w2 / q, w2**2])]
    if math.isfinite(weighting.f4):
        pairs.append(([w4**2 / w3, w4**2], [1.0, w4 / weighting.q4, w4**2]))
    if math.isfinite(weighting.f5):
        pairs.append(([1.0, w5 / weighting.q5, w5**2], [1.0, w6 / weighting.q6, w6**2]))
    for top, bottom in pairs:
        sections.append(zpk2sos(*bilinear_zpk(*tf2zpk(top, bottom), fs=rate)))
    return np.concatenate(sections)


@pytest.mark.parametrize("weighting", FILTERS, ids=lambda w: w.name)
def test_filter_against_a_digital_cascade(weighting):
    """Source 3: normal noise within 80 Hz, filtered at 64 kHz and read at 1 kHz.

    3e-4 of the r.m.s. all through, 1 % at the ends, where the band-limited noise is cut off.
    """
    rng = np.random.default_rng(5)
    slow = np.zeros(4000)
    slow[500:3500] = rng.standard_normal(3000)
    spectrum = np.fft.rfft(slow)
    spectrum[np.fft.rfftfreq(4000, 1e-3) > 80.0] = 0.0
    slow = np.fft.irfft(spectrum)
    fast = np.asarray(resample(slow, 64 * 4000))
    want = sosfilt(digital(weighting, 64000.0), fast)[::64]
    got = weigh(slow, 1e-3, weighting)
    assert np.max(np.abs(got - want)) < 1e-2 * rms(want)
    assert rms(got - want) < 3e-4 * rms(want)


@pytest.mark.parametrize(("signal", "step", "text"), [
    (np.zeros(100), 0.006, "6 ms"),
    (np.zeros(100), 0.0, "must be positive"),
    (np.zeros(100), math.nan, "must be positive"),
    (np.array([0.0, 1.0, math.nan]), 0.001, "no number at 0.002 s"),
    (np.zeros(1), 0.001, "one time history"),
    (np.zeros((10, 3)), 0.001, "one time history"),
])  # fmt: skip
def test_refusals(signal, step, text):
    with pytest.raises(DomainError, match=text):
        weigh(signal, step, WK)
