"""A line chart that is read at the pointer or by arrow keys; its figures come from the picture's own address."""

from __future__ import annotations

from nicegui.element import Element
from nicegui.elements.echart import EChart

_ = EChart  # registers the library's chart module, from which the component takes what it draws with


class LineChartView(Element, component="static/line_chart.js"):
    """A chart of curves.

    Parameters
    ----------
    source : str
        Address of its figures, as `release.chart_json` writes them.
    title : str
        What it is called, for screen readers until it stands.
    """

    def __init__(self, source: str, title: str) -> None:
        super().__init__()
        self._props["source"] = source
        self._props["title"] = title
