"""Pictures of a Result as SVG or PNG."""

from tussock.release.figures.picture import picture_png, picture_svg

__all__ = ["picture_png", "picture_svg"]
