"""Pictures of a Result as SVG or PNG files, or as elements of a page."""

from tussock.release.figures.inline import picture_inline
from tussock.release.figures.picture import picture_png, picture_svg

__all__ = ["picture_inline", "picture_png", "picture_svg"]
