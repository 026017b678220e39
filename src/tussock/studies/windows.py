"""Windows: between which levels does each adjuster's sweet spot lie, and which drive would narrow it most?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tussock.errors import InputError
from tussock.mechanics.tuning import Comparison, Step, Window, drive_weight, fit_window
from tussock.record.scales import SCALES
from tussock.record.view import nearest
from tussock.studies import log_entries
from tussock.studies.display import number
from tussock.studies.job import Job, Setup
from tussock.studies.log_entries import comparisons
from tussock.studies.result import Axis, Cell, Column, Mark, Notice, Result, Row, RowChart, Table
from tussock.studies.tuning_levels import DIALS, Dial, dial_of, furthest_other, level, levels, moved

QUESTION = "Which window do the drives leave each adjuster, and which drive would narrow it most?"
HALF_LIFE = 3.0
"""Steps by which another adjuster must have moved since for an old verdict to count half."""


@dataclass(frozen=True, kw_only=True)
class DialWindow:
    """One adjuster's window with what was felt, where the build stands, and what to drive next."""

    dial: Dial
    window: Window
    at: float
    drives: int
    faded: float
    next: Step | None

    @property
    def state(self) -> str:
        """Closed, open, cannot be felt, or not driven by itself."""
        if not self.window.comparisons:
            return "not driven alone"
        if self.window.unfelt:
            return "drivers cannot feel this one"
        return "closed" if self.window.closed else "open"


@dataclass(frozen=True, kw_only=True)
class Windows:
    """The windows of all adjusters from one build on; `left_out` drives moved several adjusters."""

    found: tuple[DialWindow, ...]
    used: int
    left_out: tuple[str, ...]


def windows(
    job: Job, setup: Setup, *, attribute: str = "overall", section: str | None = None, half_life: float = HALF_LIFE
) -> Windows:
    """Return every adjuster's window from verdicts in one respect, as seen from the build to go on from.

    A verdict counts where only that adjuster moved between the two builds. Verdicts of one drive share its mood and
    count less each; a verdict fades when other adjusters have moved since, by half for every `half_life` steps.

    Parameters
    ----------
    job : Job
        The programme.
    setup : Setup
        Build to go on from, in the fit-out to drive.
    attribute : str
        In what respect.
    section : str, optional
        Of the road loop; all unless said.
    half_life : float
        [steps].
    """
    told: dict[str, dict[str, list[Comparison]]] = defaultdict(lambda: defaultdict(list))
    fades: dict[str, list[float]] = defaultdict(list)
    now = levels(job, setup)
    left_out: list[str] = []
    chosen = [c for c in comparisons(job) if c.attribute == attribute and section in (None, c.section)]
    for drive in dict.fromkeys(c.drive for c in chosen):
        verdicts = [c for c in chosen if c.drive == drive]
        ends = [
            levels(job, Setup(fitout=verdicts[0].fitout, build=b)) for b in (verdicts[0].against, verdicts[0].build)
        ]
        dial = dial_of(moved(*ends))
        reference, tried = (None, None) if dial is None else (level(dial, ends[0]), level(dial, ends[1]))
        if dial is None or reference is None or tried is None:
            left_out.append(drive)
            continue
        middle = {q: 0.5 * (ends[0][q] + ends[1][q]) for q in ends[0] if q in ends[1]}
        fade = 0.5 ** (furthest_other(dial, middle, now) / half_life)
        fades[dial.key].append(fade)
        told[dial.key][drive] = [
            Comparison(tried=tried, reference=reference, verdict=c.better, weight=fade * drive_weight(len(verdicts)))
            for c in verdicts
        ]
    found: list[DialWindow] = []
    for dial in DIALS.values():
        at = level(dial, now)
        drives = list(told[dial.key].values())
        if at is None or (len(dial.quantities) > 1 and not drives):
            continue  # no such part on this vehicle; a group that nobody moved together is no row
        reached = tuple(x for drive in drives for c in drive for x in (c.tried, c.reference))
        window = fit_window(dial.prior((at, *reached)), drives)
        found.append(
            DialWindow(
                dial=dial,
                window=window,
                at=at,
                drives=len(drives),
                faded=min(fades[dial.key], default=1.0),
                next=None if window.unfelt else window.next_step(at),
            )
        )
    return Windows(found=tuple(found), used=sum(w.drives for w in found), left_out=tuple(left_out))


def study(
    job: Job,
    *,
    fitout: str | None = None,
    build: str | None = None,
    attribute: str = "overall",
    section: str | None = None,
) -> Result:
    """Return the window of every adjuster, its width, and the drive that would narrow it most.

    Parameters
    ----------
    job : Job
        The programme.
    fitout, build : str, optional
        Where to go on from; the first fit-out and the last build unless said.
    attribute : str
        In what respect the drivers judged, by its key.
    section : str, optional
        Section of the road loop; all unless said.

    Raises
    ------
    InputError
        For an attribute or a section that is not known; says which is near.
    """
    if attribute not in SCALES:
        raise InputError(f"there is no attribute {attribute!r}; {nearest(attribute, list(SCALES))}")
    sections = [s.name for s in job.programme.road_loop.sections]
    if section is not None and section not in sections:
        raise InputError(f"there is no section {section!r} on the road loop; {nearest(section, sections)}")
    setup = job.setup(fitout, build)
    found = windows(job, setup, attribute=attribute, section=section)
    return Result(
        stage="windows",
        question=QUESTION,
        answer=answer(found, setup),
        passes=True,
        provenance=job.provenance(setup),
        notices=notices(found),
        pictures=(picture(found, setup),),
        tables=(window_table(found), _felt_table(job, found)),
        inputs={
            "fit-out": setup.fitout,
            "from": setup.build,
            "judged": SCALES[attribute].title,  # type: ignore[index]
            "where": section or log_entries.WHOLE_LOOP,
            "an old verdict counts half": f"when another adjuster has moved {HALF_LIFE:g} steps since",
        },
        values={
            **{f"{w.dial.key}_low_steps": w.window.bracket()[0] for w in found.found},
            **{f"{w.dial.key}_high_steps": w.window.bracket()[1] for w in found.found},
            **{f"{w.dial.key}_closed": w.window.closed for w in found.found},
        },
    )


def best_next(found: Windows) -> DialWindow | None:
    """Return the adjuster whose next drive is expected to narrow a window most; those that were driven go first."""
    still = [w for w in found.found if w.next is not None and not w.window.closed and w.next.narrowing > 0.0]
    driven = [w for w in still if w.window.comparisons]
    return max(driven or still, key=lambda w: w.next.narrowing if w.next else 0.0, default=None)


def answer(found: Windows, setup: Setup) -> str:
    """Say how many windows are closed, which is narrowest, and what to drive next."""
    driven = [w for w in found.found if w.window.comparisons]
    if not driven:
        why = " (every drive moved several adjusters)" if found.left_out else ""
        return (
            f"No drive says anything of one adjuster alone{why}; change one thing and drive it against {setup.build}."
        )
    closed = [w for w in driven if w.window.closed]
    narrow = min(driven, key=lambda w: w.window.width)
    low, high = narrow.window.bracket()
    text = (
        f"{len(closed)} of {len(found.found)} windows closed; the narrowest is {narrow.dial.title}, "
        f"{_steps(low)} to {_steps(high)} steps from stock"
    )
    ahead = best_next(found)
    if ahead is None or ahead.next is None:
        return f"{text}."
    return f"{text}; drive {next_words(ahead)} against {setup.build} next: {_narrows(ahead)}."


def next_words(one: DialWindow) -> str:
    """Say which change to drive."""
    assert one.next is not None
    steps = one.next.tried - one.next.reference
    return f"{one.dial.title} {one.dial.words(steps)}"


def _narrows(one: DialWindow) -> str:
    assert one.next is not None
    return f"its window narrows from {one.window.width:.1f} to {one.next.width:.1f} steps on average"


def _steps(value: float) -> str:
    return number(value, "ratio", digits=1, sign=True)


def notices(found: Windows) -> tuple[Notice, ...]:
    """Return what stands in the way of narrower windows."""
    out: list[Notice] = []
    unfelt = [w.dial.title for w in found.found if w.window.unfelt]
    if unfelt:
        out.append(
            Notice(
                text=f"drivers cannot feel {', '.join(unfelt)}: their verdicts do not depend on it",
                remedy="set it by the simulation or by wear, or move it by three steps and more in one drive",
            )
        )
    faded = [w.dial.title for w in found.found if w.faded < 0.5]
    if faded:
        out.append(
            Notice(
                text=f"other adjusters have moved far since {', '.join(faded)} was driven: its verdicts count less",
                remedy="drive it once more on the present build",
            )
        )
    return tuple(out)


def _bracket_words(one: DialWindow) -> str:
    if not one.window.comparisons:
        return f"not driven · try {one.dial.words(one.next.tried - one.next.reference)}" if one.next else "not driven"
    if one.window.unfelt:
        return "cannot be felt"
    if one.window.closed or one.next is None:
        return f"closed, {one.window.width:.1f} wide" if one.window.closed else "open"
    return f"open, {one.window.width:.1f} wide · try {one.dial.words(one.next.tried - one.next.reference)}"


def picture(found: Windows, setup: Setup) -> RowChart:
    """Return one row an adjuster: bracket, what was felt, where the build stands, and what to drive next."""
    rows: list[Row] = []
    ahead = best_next(found)
    for one in found.found:
        low, high = one.window.bracket()
        driven = bool(one.window.comparisons)
        marks = [Mark(text="|", x=one.at)]
        if driven:
            marks += [Mark(text=">", x=x) for x in _felt(one.window.comparisons, 1)]
            marks += [Mark(text="<", x=x) for x in _felt(one.window.comparisons, -1)]
        if one is ahead and one.next is not None:
            marks.append(Mark(text="o", x=one.next.tried, role="governs"))
        rows.append(
            Row(
                label=one.dial.title.removeprefix(f"{one.dial.group.lower()} "),
                group=one.dial.group,
                at=one.window.best if driven else one.at,
                low=low,
                high=high,
                open_low=one.window.too_soft < 1.0,
                open_high=one.window.too_firm < 1.0,
                role="governs" if one is ahead else "build" if driven else "plain",
                text=_bracket_words(one),
                marks=tuple(marks),
            )
        )
    return RowChart(
        key="windows",
        title="Windows of the adjusters, from too soft to too firm",
        x=Axis(title="steps from stock (25 % of force or bar, 10 % of spring rate or pressure)", kind="count"),
        rows=tuple(rows),
        zero_label="stock",
        alike=True,
        note=f"A line holds the sweet spot in 90 of 100; dots: that end was not felt yet. Stroke: where {setup.build} "
        "stands; arrowheads: felt too soft (right), too firm (left); ring: drive this next.",
    )


def _felt(told: Sequence[Comparison], way: int) -> tuple[float, ...]:
    """Return the levels that were felt too soft (1) or too firm (-1)."""
    ends = min if way > 0 else max
    return tuple(sorted({ends(c.tried, c.reference) for c in told if c.firmer == way}))


def window_table(found: Windows, *, driven: bool = False) -> Table:
    """Return the windows as figures, of those alone that were driven if asked."""
    rows: list[tuple[Cell, ...]] = []
    shown = [w for w in found.found if w.window.comparisons or not driven]
    for one in shown:
        low, high = one.window.bracket()
        rows.append(
            (
                one.dial.title,
                one.at,
                low,
                high,
                high - low,
                one.window.too_soft,
                one.window.too_firm,
                one.drives,
                one.window.felt if one.window.comparisons else None,
                one.state,
                one.dial.words(one.next.tried - one.next.reference) if one.next else "",
                one.next.narrowing if one.next else None,
            )
        )
    ahead = best_next(found)
    return Table(
        key="windows",
        title="Windows, in steps from stock",
        columns=(
            Column(key="adjuster", title="Adjuster"),
            Column(key="at", title="Stands at", kind="ratio", digits=1, sign=True),
            Column(key="low", title="From", kind="ratio", digits=1, sign=True),
            Column(key="high", title="To", kind="ratio", digits=1, sign=True),
            Column(key="width", title="Width", kind="ratio", digits=1),
            Column(key="too_soft", title="Too soft felt", kind="ratio", digits=1),
            Column(key="too_firm", title="Too firm felt", kind="ratio", digits=1),
            Column(key="drives", title="Drives", kind="count"),
            Column(key="felt", title="Can be felt", kind="share", digits=0),
            Column(key="state", title="Window"),
            Column(key="next", title="Drive next"),
            Column(key="narrowing", title="Narrows by", kind="ratio", digits=1),
        ),
        rows=tuple(rows),
        strong=() if ahead is None or ahead not in shown else (shown.index(ahead),),
        note="from and to hold the sweet spot in 90 of 100; felt: clear verdicts count 1, slight ones a half, less "
        "where a drive gave several; closed: both felt, 3 steps or less, and confirmed by another drive; narrows by: "
        "on average over the verdicts to be expected",
    )


def _felt_table(job: Job, found: Windows) -> Table:
    """Return which drives feed which window, and which feed none."""
    by_drive: Mapping[str, str] = {d: "several adjusters moved, or none: it feeds no window" for d in found.left_out}
    return Table(
        key="left_out",
        title="Drives that feed no window",
        columns=(Column(key="drive", title="Drive"), Column(key="why", title="Why")),
        rows=tuple(by_drive.items()),
        note="they still count for the preference between whole builds",
    )


__all__ = ["QUESTION", "DialWindow", "Windows", "best_next", "study", "windows"]
