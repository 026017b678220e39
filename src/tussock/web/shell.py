"""What stands around every page: the rail with the stages and their state, and the bar of what every page follows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from html import escape
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from nicegui import ui

from tussock.release.look import STATE_SHAPES
from tussock.studies.job import KERB, STOCK
from tussock.web.desk import Choice, Standing
from tussock.web.markup import state_html
from tussock.web.places import PLACES
from tussock.web.terms import FOLLOW

if TYPE_CHECKING:
    from tussock.record import Programme
    from tussock.store import Version

CAUTION = (
    "Figures are design aids, not certification; local codes and a licensed engineer decide. Check brake lines, wheel "
    "contact and clearances on the hoist at full articulation before driving; first drives slow."
)

# A tussock of grass: five blades of our own.
_MARK = (
    '<svg viewBox="0 0 24 24" aria-hidden="true" fill="none" stroke="var(--series-2)" stroke-width="1.9" '
    'stroke-linecap="round"><path d="M12 21V6M12 21C11 15 9 11 6 8M12 21c1-6 3-10 6-13M12 21c-2-4-5-6-9-7'
    'M12 21c2-4 5-6 9-7"/></svg>'
)

# On a phone the rail is a strip: the page that is open must be in sight.
_IN_SIGHT = (
    "if (window.innerWidth <= 760) "
    "document.querySelector('.rail [aria-current]')?.scrollIntoView({block: 'nearest', inline: 'center'})"
)

SCRIPTS = ("drop", "draft")
"""Scripts of every page, without the framework's."""

# Pages about the programme itself, below the questions.
ABOUT: tuple[tuple[str, str], ...] = (("programme", "Programme"), ("history", "History"))

_THEME = (
    "() => { const dark = !document.body.classList.contains('body--dark'); Quasar.Dark.set(dark); "
    "document.cookie = 'theme=' + (dark ? 'dark' : 'light') + ';path=/;max-age=31536000;samesite=strict'; }"
)


def page_address(programme: int, place: str, choice: Choice, *, at: str = "") -> str:
    """Return the address of a page of a programme; `at` is a place in its document."""
    query = urlencode({**choice.query(), **({"at": at} if at else {})})
    path = f"/work/{programme}/{place}"
    return f"{path}?{query}" if query else path


def head(title: str, theme: str | None) -> None:
    """Give the page its style sheet, title and theme: chosen before, else the system's."""
    scripts = "".join(f'<script type="module" src="/scripts/{name}.js"></script>' for name in SCRIPTS)
    ui.add_head_html(f'<link rel="stylesheet" href="/look.css"><meta name="robots" content="noindex">{scripts}')
    ui.page_title(f"{title} · Tussock")
    if theme in ("light", "dark"):
        ui.dark_mode(theme == "dark")


def top(signed_in: str) -> None:
    """Write what stands above pages that are of no programme; with the name of whoever signed in, the way out."""
    out = (
        f'<form method="post" action="/logout" class="tools"><span>{escape(signed_in)}</span>'
        '<button type="submit" class="quiet">Sign out</button></form>'
        if signed_in
        else ""
    )
    with ui.element("header").classes("over top"):
        ui.html(f'<a class="name" href="/">{_MARK}<span>Tussock</span></a>', sanitize=False)
        ui.html(f'<a class="quiet" href="/phone">Drive log for the phone</a>{out}', sanitize=False).classes("tools")
        button("Light or dark", classes="quiet theme").on("click", js_handler=_THEME)


class Surround:
    """Rail and bar; `show` writes the rail again when states change, `follow` names a new version."""

    def __init__(self, version: Version, here: str, choice: Choice) -> None:
        self._here = here
        self._choice = choice
        self._programme_id = version.programme_id
        self._box = ui.html("", sanitize=False, tag="nav").classes("rail").props('aria-label="Stages of the job"')
        self.saved: ui.html

    def follow(self, version: Version) -> None:
        """Say which version is shown, and who saved it when."""
        when = version.created.astimezone()
        words = f"version {version.number}, saved {when:%d %b %H:%M}<br>by {escape(version.author)}"
        self.saved.set_content(words)

    def show(self, programme: Programme, standings: Mapping[str, Standing]) -> None:
        """Write the rail."""
        about = programme.programme
        stages = "".join(self._stage(name, standings) for name, place in PLACES.items() if place.stage)
        record = "".join(f"<li>{self._link(name, title, None)}</li>" for name, title in ABOUT)
        self._box.set_content(
            f'<a class="name" href="/">{_MARK}<span>Tussock</span></a>'
            f'<div class="about"><b>{escape(about.name)}</b><span>{escape(about.title)}</span></div>'
            f'<div class="lists"><ul>{stages}</ul>'
            f"<h2>The record</h2><ul>{record}</ul></div>"
        )
        self._box.client.run_javascript(_IN_SIGHT)  # the part of the page that asked may be gone

    def _stage(self, name: str, standings: Mapping[str, Standing]) -> str:
        """Return a stage and the studies that serve it: folded, unless the page is one of these."""
        title = PLACES[name].title
        beside = [n for n, place in PLACES.items() if place.under == name]
        rows = "".join(f"<li>{self._link(n, PLACES[n].title, standings.get(n))}</li>" for n in beside)
        link = self._link(name, title, standings.get(name))
        if not beside:
            return f"<li>{link}</li>"
        if self._here == name or self._here in beside:
            return f'<li>{link}<ul class="under" aria-label="Beside {escape(title)}">{rows}</ul></li>'
        states = [standing.state for n in beside if (standing := standings.get(n)) is not None]
        told = "".join(
            f' <span class="shape {state}" aria-hidden="true">{STATE_SHAPES[state]}</span> {count} {state}'
            for state in STATE_SHAPES
            if state != "open" and (count := sum(one == state for one in states))
        )
        many = f"{len(beside)} studies" if len(beside) > 1 else "one study"
        return f'<li>{link}<details class="under"><summary>{many}{told}</summary><ul>{rows}</ul></details></li>'

    def _link(self, name: str, title: str, standing: Standing | None) -> str:
        here = ' aria-current="page"' if name == self._here else ""
        state = state_html(standing.state, standing.word) if standing else ""
        shape, _, word = state.partition("</span>")
        why = ""
        if here and standing and standing.why:
            why = f'<span class="why">{escape(standing.why)}</span>'
        choice = self._choice if name == self._here else replace(self._choice, further=())
        address = escape(page_address(self._programme_id, name, choice))
        return (
            f'<a href="{address}"{here}>{shape + "</span>" if shape else "<span></span>"}'
            f"<span>{escape(title)}</span>{word}{why}</a>"
        )


def bar(programme: Programme, choice: Choice) -> ui.html:
    """Write the bar on top; a change of fit-out, build or comparison opens the same page for it.

    Returns the place where the version is named.
    """
    fitouts = {name: fitout.title or name for name, fitout in programme.fitouts.items()} | {KERB: "kerb, nobody aboard"}
    builds = {name: f"{name}, {build.title}" if build.title else name for name, build in programme.builds.items()}
    builds |= {STOCK: "stock"}
    first = next(iter(programme.fitouts), KERB)
    last = ([STOCK, *programme.builds])[-1]
    parts = (
        _select("fitout", "Fit-out", fitouts, choice.fitout or first),
        _select("build", "Build", builds, choice.build or last),
        _select("against", "Against", builds, choice.against or STOCK),
    )
    with ui.element("header").classes("over"):
        chosen = ui.html("".join(parts), sanitize=False).classes("choices")
        chosen.on("change", js_handler=FOLLOW)
        saved = ui.html("", sanitize=False).classes("version")
        button("Light or dark", classes="quiet theme").on("click", js_handler=_THEME)
    return saved


def _select(name: str, title: str, options: Mapping[str, str], chosen: str) -> str:
    rows = "".join(
        f'<option value="{escape(key)}"{" selected" if key == chosen else ""}>{escape(words)}</option>'
        for key, words in options.items()
    )
    return f'<div><label for="{name}">{title}</label><select id="{name}" name="{name}">{rows}</select></div>'


@contextmanager
def frame(version: Version, programme: Programme, here: str, choice: Choice) -> Iterator[Surround]:
    """Write rail and bar and open the main part of the page."""
    ui.html('<a class="skip" href="#main">To the answer</a>', sanitize=False)
    with ui.element("div").classes("bench"):
        around = Surround(version, here, choice)
        with ui.element("div"):
            around.saved = bar(programme, choice)
            around.follow(version)
            with ui.element("div").classes("page").props('id="main" tabindex="-1"'):
                yield around
                ui.html(CAUTION, sanitize=False, tag="p").classes("caution")


def button(text: str, *, classes: str = "quiet") -> ui.element:
    """Return a plain button."""
    made = ui.html(text, sanitize=False, tag="button").classes(classes).props('type="button"')
    return made
