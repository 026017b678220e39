"""A film that is started by hand, scrubbed and slowed; its frames come from the picture's own address."""

from __future__ import annotations

from nicegui.element import Element


class FilmView(Element, component="static/film.js"):
    """A vehicle that moves, to scale.

    Parameters
    ----------
    source : str
        Address of its frames, as `release.film_json` writes them.
    title : str
        What it shows, for screen readers until it stands.
    """

    def __init__(self, source: str, title: str) -> None:
        super().__init__()
        self._props["source"] = source
        self._props["title"] = title
