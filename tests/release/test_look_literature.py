"""Contrast of the look, and the glyphs and figures of the fonts.

Sources
-------
[1] W3C, Web Content Accessibility Guidelines 2.1 (2018), definitions "relative luminance" and "contrast ratio";
    success criteria 1.4.3 (text at least 4.5:1) and 1.4.11 (graphical objects at least 3:1). From memory.
[2] SIL Open Font License 1.1, condition 2: every copy carries the copyright notice and the licence. From memory.
"""

from __future__ import annotations

import pytest
from fontTools.ttLib import TTFont

from tussock.release.figures.canvas import text_width
from tussock.release.look import DARK, LIGHT, Look, font_file, font_folder

pytestmark = pytest.mark.literature


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(a: str, b: str) -> float:
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_formula_on_its_ends() -> None:
    assert contrast("#FFFFFF", "#000000") == pytest.approx(21.0)  # [1]: the ratio ranges from 1 to 21
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)  # well-known near miss of 4.5


@pytest.mark.parametrize("look", [LIGHT, DARK], ids=["light", "dark"])
def test_words_can_be_read(look: Look) -> None:
    for surface in (look.paper, look.card, look.rail):
        for words in (look.ink, look.soft, look.attention, look.answered):
            assert contrast(words, surface) >= 4.5, (words, surface)


@pytest.mark.parametrize("look", [LIGHT, DARK], ids=["light", "dark"])
def test_lines_can_be_seen(look: Look) -> None:
    for line in (*look.series, look.stock_line):
        assert contrast(line, look.card) >= 3.0, line
        if line != look.stock_line:
            assert contrast(line, look.paper) >= 3.0, line


def test_fonts_hold_every_sign_that_reports_use() -> None:
    for weight in ("regular", "semibold", "italic", "serif"):
        with TTFont(font_file(weight)) as font:
            held = font.getBestCmap()
        signs = "−±°²³·×≤≥→µΔαβφ–“”’" + ("" if weight == "serif" else "●▲○")
        assert [s for s in signs if ord(s) not in held] == []


def test_figures_are_tabular() -> None:
    for weight in ("regular", "semibold"):
        assert len({round(text_width(d, 10.0, weight), 6) for d in "0123456789"}) == 1


def test_licences_travel_with_the_fonts_and_the_fonts_are_small() -> None:
    texts = sorted(font_folder().glob("OFL-*.txt"))
    assert len(texts) == 2
    for text in texts:  # [2]
        assert "SIL OPEN FONT LICENSE Version 1.1" in text.read_text(encoding="utf-8")
        assert "Copyright" in text.read_text(encoding="utf-8")
    assert sum(p.stat().st_size for p in font_folder().iterdir()) < 1_500_000
