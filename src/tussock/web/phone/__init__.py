"""The drive log on the phone: a plain page, kept on the phone by a service worker, over the REST interface."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from importlib.resources import files

from fastapi import APIRouter, Request, Response

from tussock.release.look import font_folder

_TYPES = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".ttf": "font/ttf",
    ".webmanifest": "application/manifest+json",
}
_FONTS = ("SourceSans3-Regular.ttf", "SourceSans3-SemiBold.ttf", "SourceSerif4-SemiBold.ttf")


@dataclass(frozen=True, slots=True)
class _File:
    content: bytes
    media_type: str
    tag: str


def phone_routes() -> APIRouter:
    """Return the page and its files, read once."""
    router = APIRouter(include_in_schema=False)
    served = _served()

    @router.get("/phone")
    @router.get("/phone/")
    def page(request: Request) -> Response:
        return _answer(served["index.html"], request)

    @router.get("/phone/{name}")
    def part(name: str, request: Request) -> Response:
        if name not in served:
            return Response("there is nothing at this address", status_code=404, media_type="text/plain")
        return _answer(served[name], request)

    return router


def _served() -> dict[str, _File]:
    folder = files("tussock.web.phone") / "static"
    raw = {f.name: f.read_bytes() for f in folder.iterdir() if f.is_file()}
    raw |= {name: (font_folder() / name).read_bytes() for name in _FONTS}
    shell = sorted(name for name in raw if name != "sw.js")
    content = hashlib.sha256(b"".join(name.encode() + raw[name] for name in [*shell, "sw.js"]))
    paths = ["/phone" if name == "index.html" else f"/phone/{name}" for name in shell]
    worker = raw["sw.js"].decode().replace("{version}", f"drive-log-{content.hexdigest()[:16]}")
    raw["sw.js"] = worker.replace("{shell}", json.dumps(paths)).encode()
    return {
        name: _File(body, _TYPES[name[name.rindex(".") :]], f'"{hashlib.sha256(body).hexdigest()[:32]}"')
        for name, body in raw.items()
    }


def _answer(file: _File, request: Request) -> Response:
    headers = {"Cache-Control": "no-cache", "ETag": file.tag, "Service-Worker-Allowed": "/phone"}
    if request.headers.get("if-none-match") == file.tag:
        return Response(status_code=304, headers=headers)
    return Response(file.content, media_type=file.media_type, headers=headers)
