"""What a study gives back: one frozen Result that page, command line, report and JSON all show.

Nothing in a Result is formatted and nothing is computed after it: numbers are SI floats, each with the kind that
`display` knows how to show.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from typing import Literal, TypeAlias

from tussock.studies.display import KINDS

Cell: TypeAlias = float | int | str | bool | None
Role: TypeAlias = Literal["stock", "build", "governs", "target", "plain"]
State: TypeAlias = Literal["answered", "look", "open"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Column:
    """A column of a table: `key` for programs, `title` for people, `kind` of its numbers (see `display`)."""

    key: str
    title: str
    kind: str = "text"
    digits: int | None = None
    sign: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Table:
    """Rows of SI numbers and words under columns; rows listed in `strong` govern."""

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    strong: tuple[int, ...] = ()
    note: str = ""

    def __post_init__(self) -> None:
        """Refuse ragged rows and unknown kinds: both are mistakes of the study, not of its input."""
        for column in self.columns:
            if column.kind not in KINDS:
                raise KeyError(f"table {self.key}: column {column.key} has unknown kind {column.kind!r}")
        for i, row in enumerate(self.rows):
            if len(row) != len(self.columns):
                raise ValueError(f"table {self.key}: row {i} has {len(row)} cells, wants {len(self.columns)}")


@dataclass(frozen=True, kw_only=True, slots=True)
class Axis:
    """An axis of a chart: what it shows and the kind of its numbers."""

    title: str
    kind: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One curve; `role` decides its colour, `label` is written at its end. `dots` draws points, not a line.

    Without `marked` a build's curve carries no markers, so that they cannot be taken for measured points.
    """

    label: str
    x: tuple[float, ...]
    y: tuple[float, ...]
    role: Role = "build"
    dots: bool = False
    marked: bool = True


@dataclass(frozen=True, kw_only=True, slots=True)
class Mark:
    """A short note at a point of a chart, or across it where `x` or `y` is None."""

    text: str
    x: float | None = None
    y: float | None = None
    role: Role = "plain"


@dataclass(frozen=True, kw_only=True, slots=True)
class Band:
    """An area between two curves over the same x: scatter, or what is permitted. `label` is written at its end."""

    label: str
    x: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    role: Role = "target"


@dataclass(frozen=True, kw_only=True, slots=True)
class LineChart:
    """Curves over a common horizontal axis, areas behind them."""

    key: str
    title: str
    x: Axis
    y: Axis
    lines: tuple[Line, ...]
    marks: tuple[Mark, ...] = ()
    bands: tuple[Band, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Rung:
    """One limiter beside a span: where it stops the travel, and whether it governs."""

    text: str
    at: float
    governs: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Span:
    """A bar from `low` to `high` in the group `group` (Front, Rear), named `label` (stock, kit +35)."""

    group: str
    label: str
    low: float
    high: float
    role: Role = "build"
    rungs: tuple[Rung, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class SpanChart:
    """Vertical bars on one axis with rungs beside them; `paired` sets the two bars of each group as one ladder."""

    key: str
    title: str
    y: Axis
    spans: tuple[Span, ...]
    zero_label: str = ""
    paired: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Shape:
    """A polyline of a drawing to scale, in metres; `closed` fills it faintly; `circle` is a radius about each point.

    `ends` puts rings on the ends of a short open line, which stands for a rod.
    """

    label: str
    points: tuple[tuple[float, float], ...]
    role: Role = "build"
    closed: bool = False
    circle: float = 0.0
    ends: bool = True


@dataclass(frozen=True, kw_only=True, slots=True)
class Caption:
    """Words in a drawing that stand where they belong: in the middle at `x` and `y` in metres, `down` by some lines."""

    text: str
    x: float
    y: float
    down: float = 0.0
    large: bool = False
    role: Role = "plain"


@dataclass(frozen=True, kw_only=True, slots=True)
class Drawing:
    """A drawing to scale: shapes in metres in one plane, horizontal then vertical.

    Labels and the words of marks stand in the margins, captions in the drawing.
    """

    key: str
    title: str
    plane: str
    shapes: tuple[Shape, ...]
    marks: tuple[Mark, ...] = ()
    captions: tuple[Caption, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class BoardCell:
    """A figure read from afar: `at`, wanted from `low` to `high`, `words` that say how it stands.

    What is `chosen` is framed, the others are what else could stand there. `at` is None where it cannot be.
    """

    at: float | None
    low: float
    high: float
    words: str
    chosen: bool = True

    @property
    def fits(self) -> bool:
        """Whether the figure is within what is wanted."""
        return self.at is not None and self.low <= self.at <= self.high


@dataclass(frozen=True, kw_only=True, slots=True)
class Board:
    """A table that is read at arm's length: a row a case, columns in groups, each cell a figure in its band."""

    key: str
    title: str
    figure: Axis
    columns: tuple[tuple[str, str], ...]  # group and title of each
    rows: tuple[tuple[str, tuple[BoardCell, ...]], ...]
    note: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One line of a row chart: a figure `at`, known to lie from `low` to `high`, and its words at the right.

    An end that is `open` may lie further out. `marks` stand on the line at their `x`: "|" is a stroke across it, "<"
    and ">" are arrowheads, "o" a ring.

    A row of the role "plain" cannot be told from the chart's zero and is drawn faint.
    """

    label: str
    at: float
    low: float
    high: float
    group: str = ""
    role: Role = "build"
    text: str = ""
    open_low: bool = False
    open_high: bool = False
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class RowChart:
    """Figures with their intervals, one below the other; with `bars` each is a bar from zero.

    Rows that are `alike` share one colour and have no point of their own but their marks; `note` says what those mean.
    """

    key: str
    title: str
    x: Axis
    rows: tuple[Row, ...]
    zero_label: str = ""
    bars: bool = False
    alike: bool = False
    note: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Moving:
    """A part of a film: shapes in axes of its own, which stand at `across`, `up` and `turn` in each frame.

    Metres; the turn in radians, anticlockwise as drawn. Where `governs` is true the part wants attention.
    """

    label: str
    view: str
    shapes: tuple[Shape, ...]
    across: tuple[float, ...]
    up: tuple[float, ...]
    turn: tuple[float, ...]
    governs: tuple[bool, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class View:
    """One side from which a film is seen, in metres: `left` to `right` across, `bottom` to `top`.

    `ground` is a profile that passes below as the film goes along: heights at even `spacing` from `start`.
    """

    key: str
    title: str
    left: float
    right: float
    bottom: float
    top: float
    ground: tuple[float, ...] = ()
    spacing: float = 1.0
    start: float = 0.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Film:
    """A vehicle that moves, to scale: frames every `step` seconds, the place `along` the road in each.

    `level` is the height that each frame is seen against, which heights of the ground have not had taken off. `still`
    is the frame that stands for the film where nothing can move.
    """

    key: str
    title: str
    step: float
    along: tuple[float, ...]
    level: tuple[float, ...]
    views: tuple[View, ...]
    parts: tuple[Moving, ...]
    still: int = 0
    note: str = ""


Picture: TypeAlias = LineChart | SpanChart | RowChart | Drawing | Board | Film


@dataclass(frozen=True, kw_only=True, slots=True)
class Notice:
    """A warning: what is so, and what to do about it."""

    text: str
    remedy: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Provenance:
    """What the figures were computed from."""

    programme: str
    digest: str
    tussock: str
    data: str
    fitout: str = ""
    build: str = ""
    seed: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Result:
    """The answer of one study and all that stands behind it.

    Attributes
    ----------
    stage : str
        Name of the stage of the job ("travel").
    question, answer : str
        The question, and one plain sentence that answers it with figures.
    passes : bool
        False when an engineering check fails; the command line then exits with 1.
    notices : tuple of Notice
        Warnings, each with its remedy.
    pictures, tables : tuple
        Pictures first, then numbers.
    inputs : mapping
        The inputs that move the answer, as the programme writes them.
    values : mapping
        The figures of the answer by name, in SI; a name ends in its unit (``front_lift_m``).
    provenance : Provenance
        Programme, version, seed.
    """

    stage: str
    question: str
    answer: str
    passes: bool
    provenance: Provenance
    notices: tuple[Notice, ...] = ()
    pictures: tuple[Picture, ...] = ()
    tables: tuple[Table, ...] = ()
    inputs: Mapping[str, str] = field(default_factory=dict)
    values: Mapping[str, float | str | bool] = field(default_factory=dict)

    @property
    def state(self) -> State:
        """'answered', or 'look' when a check fails or a warning stands."""
        return "answered" if self.passes and not self.notices else "look"

    def as_json(self) -> dict[str, object]:
        """Return the whole result as plain JSON values; every number names its SI unit."""
        plain = _plain(self)
        assert isinstance(plain, dict)
        plain["state"] = self.state
        return plain

    def table(self, key: str) -> Table:
        """Return the table named `key`; KeyError if there is none."""
        for table in self.tables:
            if table.key == key:
                return table
        raise KeyError(key)


def _plain(value: object) -> object:
    if isinstance(value, (Column, Axis)):
        kind = KINDS[value.kind]
        plain = {f.name: getattr(value, f.name) for f in fields(value)}
        plain["unit"] = kind.si_unit
        return plain
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, Mapping):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, (tuple, list)):
        return [_plain(v) for v in value]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value
