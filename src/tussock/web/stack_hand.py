"""A stack of discs in the hand: discs added, taken out, swapped and moved, the force following, then saved or dropped.

Nothing is computed here: a thread asks `studies.stack_by_hand`. What stands on the page before it is saved is nobody
else's; saving writes the field like typing it does.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any

from nicegui import ui
from nicegui.events import GenericEventArguments

from tussock.errors import TussockError
from tussock.release.figures import picture_inline, picture_png, picture_svg
from tussock.release.outputs import file_stem, table_csv
from tussock.release.picture_data import picture_csv
from tussock.studies import stack_by_hand as by_hand
from tussock.web.markup import answer_html, notice_html, table_html, table_text
from tussock.web.moves import save_field
from tussock.web.shell import button
from tussock.web.stack_drawn import discs_html, sizes_html, stack_svg

if TYPE_CHECKING:
    from tussock.store import Version
    from tussock.studies.job import Job, Setup
    from tussock.studies.result import Drawing
    from tussock.web.question_page import QuestionPage

_WIDE, _NARROW = 360.0, 250.0  # sheets of the force curve beside the list, and on a phone [pt]
_REMEMBERED = 100

_KEYS = (
    "(e) => { const plain = {ArrowUp: 'next', ArrowDown: 'before', ArrowRight: 'wider', ArrowLeft: 'narrower', "
    "'+': 'thicker', '-': 'thinner', Insert: 'add', Delete: 'out', Backspace: 'out'}; "
    "const act = e.ctrlKey || e.metaKey ? {z: 'undo'}[e.key] "
    ": e.altKey ? {ArrowUp: 'up', ArrowDown: 'down'}[e.key] : plain[e.key]; "
    "if (act) { e.preventDefault(); emit(act); } }"
)
_PICKED = "(e) => { const at = e.target.closest('[data-disc]'); if (at) emit(Number(at.dataset.disc)); }"
# A disc is dragged by its grip, by mouse or finger; where it is let go it is put.
_DRAG = """(e) => {
  if (!e.target.closest('.grip')) return;
  e.preventDefault();
  const from = e.target.closest('[data-disc]'), list = from.parentElement, ends = ['pointerup', 'pointercancel'];
  let over = null;
  from.classList.add('held');
  const move = (m) => {
    const hit = document.elementFromPoint(m.clientX, m.clientY)?.closest('[data-disc]');
    over?.classList.remove('over');
    over = hit && list.contains(hit) && hit !== from ? hit : null;
    over?.classList.add('over');
  };
  const end = (m) => {
    window.removeEventListener('pointermove', move);
    ends.forEach((name) => window.removeEventListener(name, end));
    from.classList.remove('held');
    over?.classList.remove('over');
    if (over && m.type === 'pointerup') emit([Number(from.dataset.disc), Number(over.dataset.disc)]);
  };
  window.addEventListener('pointermove', move);
  ends.forEach((name) => window.addEventListener(name, end));
}"""
# Within the list only: the page itself must not jump while somebody presses buttons below.
_IN_SIGHT = (
    "const list = document.querySelector('.discs'), at = list?.querySelector('[aria-selected=true]'); "
    "if (at) list.scrollTop = Math.min(Math.max(list.scrollTop, at.offsetTop + at.offsetHeight - list.clientHeight), "
    "at.offsetTop);"
)
_HELP = (
    "Keys in the list: up and down choose, with Alt they move the disc; + and − swap it for a thicker or thinner one, "
    "right and left for a wider or narrower one; Insert adds another, Delete takes it out, Ctrl Z goes back."
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Shown:
    """What was computed of one stack, ready for the page."""

    tried: by_hand.Tried
    chart: str


class StackHand:
    """The panel on one version; `follow` takes it to the next."""

    def __init__(self, page: QuestionPage, job: Job, setup: Setup) -> None:
        self._page = page
        self._job, self._setup = job, setup
        self._places = by_hand.places(job, setup)
        self._sizes = by_hand.sizes(job)
        self._at = 0
        self._discs: tuple[str, ...] = self._place.discs
        self._chosen = len(self._discs) - 1
        self._past: list[tuple[str, ...]] = []
        self._shown: Shown | None = None
        self._asked = self._answered = 0
        self._computing = False
        self._build()

    @property
    def _place(self) -> by_hand.StackPlace:
        return self._places[self._at]

    def _build(self) -> None:
        with ui.element("section").classes("card hand").props('aria-label="Discs by hand"'):
            ui.html("Discs by hand", sanitize=False, tag="h2")
            with ui.element("div").classes("hand-top"):
                ui.html("Stack", sanitize=False, tag="label").props('for="hand-place"')
                options = "".join(
                    f'<option value="{i}">{escape(p.end.capitalize())}, {escape(p.damper)}: {escape(p.title)}</option>'
                    for i, p in enumerate(self._places)
                )
                place = ui.html(options, sanitize=False, tag="select").props('id="hand-place"').mark("hand-place")
                place.on("change", self._go_to, js_handler="(e) => emit(Number(e.target.value))")
            self._says = ui.html("", sanitize=False, tag="p").classes("hand-says").props('role="status"')
            with ui.element("div").classes("hand-grid"):
                with ui.element("div").classes("hand-pictures"):
                    self._drawing = ui.html("", sanitize=False).classes("hand-drawing")
                    self._drawing.on("click", self._pick, js_handler=_PICKED)
                    self._chart = ui.html("", sanitize=False).classes("hand-chart")
                with ui.element("div").classes("hand-side"):
                    ui.html("nut", sanitize=False, tag="p").classes("end")
                    self._list = ui.html("", sanitize=False, tag="ol").classes("discs").mark("discs")
                    self._list.props('role="listbox" tabindex="0" aria-label="Discs, from the nut to the seat"')
                    self._list.props('aria-describedby="hand-help"')
                    self._list.on("click", self._pick, js_handler=_PICKED)
                    self._list.on("keydown", self._key, js_handler=_KEYS)
                    self._list.on("pointerdown", self._dropped, js_handler=_DRAG)
                    ui.html("seat", sanitize=False, tag="p").classes("end")
                self._buttons()
            ui.html(_HELP, sanitize=False, tag="p").classes("note help").props('id="hand-help"')
            self._numbers = ui.html("", sanitize=False)
            self._tools()

    def _buttons(self) -> None:
        with ui.element("div").classes("hand-buttons"):
            self._size = (
                ui.html("", sanitize=False, tag="select")
                .props('id="hand-size" aria-label="Swap the disc for"')
                .mark("hand-size")
            )
            self._size.on("change", self._swap, js_handler="(e) => emit(e.target.value)")
            for act, words in (("before", "Disc below"), ("next", "Disc above")):
                button(words).classes("on-phone").on("click", lambda act=act: self._do(act))
            for act, words in (
                ("thinner", "Thinner"), ("thicker", "Thicker"), ("narrower", "Narrower"), ("wider", "Wider"),
                ("up", "To the nut"), ("down", "To the seat"), ("add", "Add another"), ("out", "Take out"),
            ):  # fmt: skip
                button(words).mark(f"hand-{act}").on("click", lambda act=act: self._do(act))
        with ui.element("div").classes("hand-ends"):
            self._save = button("Save as a new version", classes="main-button").mark("hand-save")
            self._save.on("click", self._keep)
            button("Undo").mark("hand-undo").on("click", lambda: self._do("undo"))
            button("Drop").mark("hand-drop").on("click", lambda: self._do("drop"))

    def _tools(self) -> None:
        def offer(words: str, make: Callable[[Shown], tuple[str | bytes, str, str]]) -> None:
            button(words, classes="quiet plain").on("click", lambda: self._download(make))

        with ui.element("div").classes("tools"):
            offer("SVG", lambda s: (picture_svg(s.tried.chart), s.tried.chart.key, "svg"))
            offer("PNG", lambda s: (picture_png(s.tried.chart), s.tried.chart.key, "png"))
            offer("Figures, CSV", lambda s: (picture_csv(s.tried.chart), s.tried.chart.key, "csv"))
            offer("Stack, SVG", lambda s: (picture_svg(self._drawn()), self._drawn().key, "svg"))
            offer("Table, CSV", lambda s: (table_csv(s.tried.table), s.tried.table.key, "csv"))
            button("Copy table as text", classes="quiet plain").on("click", self._copy)

    async def show(self) -> None:
        """Show the stack as saved; the first answer of a version takes longer than those that follow."""
        self._draw()
        await self._follow_hand()

    async def follow(self, version: Version) -> None:
        """Follow a new version: what is held in hand stays, unless it is what was saved."""
        job = await asyncio.to_thread(self._page.desk.job, version)
        held, was = self._discs, self._place
        places = by_hand.places(job, self._setup)
        if not any(p.path == was.path for p in places):
            return  # the build wears another damper now; the page is drawn again when it is opened
        self._job, self._places = job, places
        self._at = next(i for i, p in enumerate(places) if p.path == was.path)
        if held == was.discs:  # nothing was held
            self._discs = self._place.discs
        self._draw()
        await self._follow_hand()

    async def _go_to(self, event: GenericEventArguments) -> None:
        """Take up another stack; what was not saved of this one is dropped."""
        index = int(event.args)
        if not 0 <= index < len(self._places):
            return
        self._at = index
        self._discs, self._past = self._place.discs, []
        self._chosen = len(self._discs) - 1
        self._draw()
        await self._follow_hand()

    def _pick(self, event: GenericEventArguments) -> None:
        index = int(event.args)
        if 0 <= index < len(self._discs):
            self._chosen = index
            self._draw()

    async def _key(self, event: GenericEventArguments) -> None:
        await self._do(str(event.args))

    async def _swap(self, event: GenericEventArguments) -> None:
        if str(event.args) in self._sizes and self._discs:
            await self._hold(self._replaced(str(event.args)), self._chosen)

    async def _dropped(self, event: GenericEventArguments) -> None:
        """Put a dragged disc where it was let go."""
        held, onto = (int(i) for i in event.args)
        if 0 <= held < len(self._discs) and 0 <= onto < len(self._discs):
            discs = list(self._discs)
            discs.insert(onto, discs.pop(held))
            await self._hold(tuple(discs), onto)

    async def _do(self, act: str) -> None:
        """Do one thing to the stack; what cannot be done changes nothing."""
        discs, i = self._discs, self._chosen
        last = len(discs) - 1
        if act in ("next", "before"):
            self._chosen = min(max(i + (1 if act == "next" else -1), 0), max(last, 0))
            self._draw()
        elif act == "undo" and self._past:
            self._discs = self._past.pop()
            self._chosen = min(i, len(self._discs) - 1)
            self._draw()
            await self._follow_hand()
        elif act == "drop":
            await self._hold(self._place.discs, len(self._place.discs) - 1)
        elif act == "add":
            new = discs[i] if discs else self._sizes[-1]
            await self._hold((*discs[: i + 1], new, *discs[i + 1 :]), i + 1)
        elif not discs:
            return
        elif act == "out":
            await self._hold((*discs[:i], *discs[i + 1 :]), max(min(i, last - 1), 0))
        elif act in ("up", "down"):
            onto = i + (1 if act == "up" else -1)
            if 0 <= onto <= last:
                moved = list(discs)
                moved[i], moved[onto] = moved[onto], moved[i]
                await self._hold(tuple(moved), onto)
        elif act in _STEPS:
            other = by_hand.neighbour(self._sizes, discs[i], **_STEPS[act])
            if other is None:
                self._say(f"The workshop lists no {act} disc", wrong=False)
            else:
                await self._hold(self._replaced(other), i)

    def _replaced(self, disc: str) -> tuple[str, ...]:
        i = self._chosen
        return (*self._discs[:i], disc, *self._discs[i + 1 :])

    async def _hold(self, discs: tuple[str, ...], chosen: int) -> None:
        """Take up a changed stack and let the force follow."""
        if discs == self._discs:
            return
        self._past = [*self._past, self._discs][-_REMEMBERED:]
        self._discs, self._chosen = discs, chosen
        self._draw()
        await self._follow_hand()

    def _draw(self) -> None:
        """Show the stack and its list as they are held."""
        self._drawing.set_content(stack_svg(self._drawn(), self._chosen))
        self._list.set_content(discs_html(self._discs, self._chosen))
        self._list.props["aria-activedescendant"] = f"disc-{self._chosen}"
        self._list.update()
        self._list.client.run_javascript(_IN_SIGHT)
        self._size.set_content(sizes_html(self._sizes, self._discs[self._chosen] if self._discs else None))

    def _drawn(self) -> Drawing:
        return by_hand.drawn(self._job, self._setup, self._place, self._discs)

    async def _follow_hand(self) -> None:
        """Compute what is held, and again if it changed meanwhile; what was passed over is never shown."""
        self._asked += 1
        if self._computing:
            return
        self._computing = True
        try:
            while self._answered != self._asked:
                asked = self._asked
                await self._answer()
                self._answered = asked
        finally:
            self._computing = False

    async def _answer(self) -> None:
        job, setup, place, discs, turn = self._job, self._setup, self._place, self._discs, self._asked

        def work() -> Shown:
            tried = by_hand.tried(job, setup, place, discs)
            charts = "".join(
                f'<div class="{kind}">{picture_inline(tried.chart, width=width)}</div>'
                for kind, width in (("on-wide", _WIDE), ("on-phone", _NARROW))
            )
            return Shown(tried=tried, chart=f'<div data-turn="{turn}">{charts}</div>')

        try:
            shown = await asyncio.to_thread(work)
        except TussockError as error:
            self._chart.classes("stale")
            self._say(str(error), wrong=True)
            return
        if turn != self._asked:
            return
        self._shown = shown
        self._chart.classes(remove="stale")
        self._chart.set_content(shown.chart)
        notices = "".join(notice_html(n) for n in shown.tried.notices)
        self._says.classes(remove="wrong")
        changed = f'<span class="change-words">{escape(shown.tried.change)}</span>' if shown.tried.change else ""
        self._says.set_content(f"{answer_html(shown.tried.answer)}{changed}")
        self._numbers.set_content(f"{notices}{table_html(shown.tried.table)}")

    async def _keep(self) -> None:
        """Save the stack as a new version, the change in words as its note."""
        if self._discs == self._place.discs:
            self._say("Nothing was changed", wrong=False)
            return
        place, page = self._place, self._page
        change = self._shown.tried.change if self._shown is not None else ""
        note = f"{place.damper}: {change or place.title}"
        version = await save_field(
            page, place.path, by_hand.as_field(self._discs), note=note[:400], say=self._say, settled=page.edited
        )
        if version is None:
            return
        self._past = []
        await page.edited(version)
        ui.notify(f"Saved as version {version.number}")

    def _say(self, words: str, *, wrong: bool) -> None:
        self._says.set_content(f"<span>{'▲ ' if wrong else ''}{escape(words)}</span>")
        if wrong:
            self._says.classes("wrong")
        else:
            self._says.classes(remove="wrong")

    async def _download(self, make: Callable[[Shown], tuple[str | bytes, str, str]]) -> None:
        if self._shown is None:
            return
        body, key, form = await asyncio.to_thread(make, self._shown)
        ui.download.content(body, f"{file_stem('dampers', key)}.{form}")

    def _copy(self) -> None:
        if self._shown is not None:
            ui.clipboard.write(table_text(self._shown.tried.table))
            ui.notify("Copied as text")


_STEPS: dict[str, dict[str, Any]] = {
    "thicker": {"thickness": 1},
    "thinner": {"thickness": -1},
    "wider": {"diameter": 1},
    "narrower": {"diameter": -1},
}


async def stack_hand(page: QuestionPage) -> StackHand | None:
    """Write the panel for the dampers that a page's build wears; None where the valves of neither are known."""
    job = await asyncio.to_thread(page.desk.job, page.version)
    setup = job.setup(page.choice.fitout, page.choice.build)
    if not by_hand.places(job, setup):
        return None
    return StackHand(page, job, setup)
