"""Pictures of a Result as SVG."""

from tussock.release.figures.picture import picture_svg

__all__ = ["picture_svg"]
