"""An axle moved by hand: its solved poses as the page's script reads them, and the panel around the picture."""

from __future__ import annotations

import json
import math
from html import escape
from typing import TYPE_CHECKING
from urllib.parse import urlencode

import numpy as np
from fastapi import APIRouter, HTTPException, Response
from nicegui import ui
from nicegui.element import Element
from nicegui.events import GenericEventArguments

from tussock.errors import TussockError
from tussock.mechanics.arrays import Floats
from tussock.release.outputs import file_stem
from tussock.store import StoreError
from tussock.studies.display import KINDS
from tussock.studies.job import ENDS
from tussock.studies.linkage_poses import LinkagePoses, Slider, linkage_poses
from tussock.web.pictures import FOR_A_DAY, stamp

if TYPE_CHECKING:
    from tussock.store import Version
    from tussock.web.desk import Desk
    from tussock.web.question_page import QuestionPage

_STEP = {"length": 1.0, "angle": 0.1}  # of the sliders, in the units shown


def linkage_json(poses: LinkagePoses) -> str:
    """Return an axle's poses as the page's script takes them: points in tenths of a millimetre, null where not reached.

    Arrays are flat over travel, roll, steer; figures and sliders are in the units shown.
    """
    figures = poses.models[-1].figures
    document = {
        "title": poses.title,
        "file": file_stem("geometry", f"{poses.end}_linkage"),
        "radius": poses.radius * 1e3,
        "sliders": [_slider(s) for s in poses.sliders]
        + [{"key": "steer", "title": "", "unit": "", "digits": 0, "step": 1, "values": [0.0]}]
        * (3 - len(poses.sliders)),
        "spots": [spot.name for spot in poses.spots],
        "traced": [name for name in (spot.name for spot in poses.spots) if name.startswith("contact")],
        "members": [{"name": m.name, "kind": m.kind, "points": m.points, "closed": m.closed} for m in poses.members],
        "wheels": poses.wheels,
        "figures": [
            {"key": f.key, "title": f.title, "unit": KINDS[f.kind].unit, "digits": KINDS[f.kind].digits}
            for f in figures
        ],
        "models": [
            {
                "label": model.label,
                "role": model.role,
                "points": _whole(model.points * 1e4),
                "figures": {
                    f.key: {side: _rounded(values, f.kind) for side, values in f.lines.items()} for f in model.figures
                },
            }
            for model in poses.models
        ],
        "notes": poses.notes,
    }
    return json.dumps(document, allow_nan=False, separators=(",", ":"))


def _slider(slider: Slider) -> dict[str, object]:
    kind = KINDS[slider.kind]
    return {
        "key": slider.key,
        "title": slider.title,
        "unit": kind.unit,
        "digits": kind.digits,
        "step": _STEP[slider.kind],
        "values": [round(v * kind.factor, 6) for v in slider.values],
    }


def _whole(values: Floats) -> list[int | None]:
    flat = values.ravel()
    reached = np.isfinite(flat)
    whole = np.where(reached, np.rint(np.where(reached, flat, 0.0)), 0.0).astype(np.int64).tolist()
    return [w if ok else None for w, ok in zip(whole, reached.tolist(), strict=True)]


def _rounded(values: Floats, kind: str) -> list[float | None]:
    rule = KINDS[kind]
    return [round(v, rule.digits + 2) if math.isfinite(v) else None for v in (values.ravel() * rule.factor).tolist()]


def routes(desk: Desk) -> APIRouter:
    """Return the route of the poses; it runs in a thread of its own, off the event loop."""
    router = APIRouter(include_in_schema=False)

    @router.get("/linkage/{programme}/{number}/{end}")
    def poses(programme: int, number: int, end: str, fitout: str | None = None, build: str | None = None) -> Response:
        try:
            job = desk.job(desk.store.programmes.version(programme, number))
            body = linkage_json(linkage_poses(job, end, fitout=fitout, build=build))
        except StoreError:  # answered by its kind: a store that is busy is no missing axle
            raise
        except TussockError as error:
            raise HTTPException(404, str(error)) from None
        return Response(body, media_type="application/json", headers=FOR_A_DAY)

    return router


class LinkageView(Element, component="static/linkage.js"):
    """The picture of an axle with its sliders, curves and traces.

    Parameters
    ----------
    source : str
        Address of its poses.
    title : str
        What it is called.
    """

    def __init__(self, source: str, title: str) -> None:
        super().__init__()
        self._props["source"] = source
        self._props["title"] = title

    def show(self, source: str) -> None:
        """Show other poses; sliders and view stay where they are."""
        self._props["source"] = source
        self.update()


class LinkageHand:
    """The panel on one version: which axle, and its picture."""

    def __init__(self, page: QuestionPage) -> None:
        self._page = page
        self._end = ENDS[0]
        with ui.element("section").classes("card hand").props('aria-label="The linkage by hand"'):
            ui.html("The linkage by hand, to scale", sanitize=False, tag="h2")
            with ui.element("div").classes("hand-top"):
                ui.html("Axle", sanitize=False, tag="label").props('for="hand-end"')
                options = "".join(f'<option value="{end}">{escape(end.capitalize())}</option>' for end in ENDS)
                chosen = ui.html(options, sanitize=False, tag="select").props('id="hand-end"').mark("hand-end")
                chosen.on("change", self._go_to, js_handler="(e) => emit(e.target.value)")
            self._view = LinkageView(self._source(page.version), "Linkage")

    def _source(self, version: Version) -> str:
        choice = {"fitout": self._page.choice.fitout, "build": self._page.choice.build}
        query = urlencode({key: value for key, value in choice.items() if value} | {"of": stamp(version)})
        return f"/linkage/{version.programme_id}/{version.number}/{self._end}?{query}"

    def _go_to(self, event: GenericEventArguments) -> None:
        if event.args in ENDS:
            self._end = str(event.args)
            self._view.show(self._source(self._page.version))

    async def show(self) -> None:
        """Nothing more: the picture fetches its poses itself."""

    async def follow(self, version: Version) -> None:
        """Show the axle of a new version."""
        self._view.show(self._source(version))


async def linkage_hand(page: QuestionPage) -> LinkageHand:
    """Write the panel."""
    return LinkageHand(page)
