"""The look as CSS: colours of both themes from the one table of the look, and the fonts that come with Tussock."""

from __future__ import annotations

from importlib.resources import files

from tussock.release.look import DARK, LIGHT, Look, font_file

_FACES = (
    ("Source Sans 3", 400, "normal", "regular"),
    ("Source Sans 3", 600, "normal", "semibold"),
    ("Source Sans 3", 400, "italic", "italic"),
    ("Source Serif 4", 600, "normal", "serif"),
)


def stylesheet() -> str:
    """Return the style sheet of all pages."""
    faces = "".join(
        f"@font-face{{font-family:'{family}';font-weight:{weight};font-style:{style};font-display:swap;"
        f"src:url('/fonts/{font_file(face).name}')}}\n"  # type: ignore[arg-type]
        for family, weight, style, face in _FACES
    )
    rest = (files("tussock") / "web" / "static" / "workbench.css").read_text(encoding="utf-8")
    return f"{faces}:root{{{_tokens(LIGHT)}}}\n.body--dark{{{_tokens(DARK)}}}\n{rest}"


def _tokens(look: Look) -> str:
    plain = ("paper", "card", "rail", "ink", "soft", "line", "stock_fill", "stock_line", "attention", "answered")
    named = {name.replace("_", "-"): getattr(look, name) for name in plain}
    named |= {f"series-{i}": colour for i, colour in enumerate(look.series, 1)}
    return "".join(f"--{name}:{colour};" for name, colour in named.items())
