"""Board: a table that is read at arm's length, each cell a large figure over the band in which it is wanted."""

from __future__ import annotations

import itertools

from tussock.release.figures.canvas import FIGURE_WIDTH, Canvas, line_height, text_width, wrap
from tussock.release.figures.scale import shown
from tussock.release.look import STATE_SHAPES, Look, Weight
from tussock.studies.display import KINDS, number
from tussock.studies.result import Board, BoardCell

SIZE = 8.5
_LARGE, _LESS = 21.0, 15.0  # the figure of what is chosen, and of what else could stand there
_GAP = 8.0  # between cells
_GROUP_GAP = 18.0
_NARROWEST = 82.0  # a cell that still holds its words
_BESIDE = 380.0  # sheets at least so wide have the names of rows beside them, narrower ones above
_SPAN = 2.2  # half of what a band's line shows, in half bands
_CELL = 74.0  # height of a cell


def draw_board(board: Board, look: Look, *, width: float = FIGURE_WIDTH) -> Canvas:
    """Lay out and draw a board.

    Groups of columns stand side by side, or one below the other, in parts if need be, where a cell would be narrower
    than its words.

    Parameters
    ----------
    board : Board
        Figures in SI.
    look : Look
        Colours.
    width : float
        Width of the sheet. [pt]
    """
    groups = [[i for i, _ in own] for _, own in itertools.groupby(enumerate(board.columns), lambda c: c[1][0])]
    beside = min(0.24 * width, 130.0) if width >= _BESIDE else 0.0
    blocks = [[i for own in groups for i in own]]
    if _cell_width(board, blocks[0], width - beside) < _NARROWEST:
        most = max(1, int((width - beside + _GAP) / (_NARROWEST + _GAP)))
        blocks = [own[i : i + most] for own in groups for i in range(0, len(own), most)]
    title = wrap(board.title, width - 8.0, 10.5, "semibold")
    note = wrap(board.note, width - 8.0, SIZE)
    row_head = 0.0 if beside else line_height(10.0) + 2.0
    block_head = 2.0 * line_height(SIZE) + 8.0
    block = block_head + len(board.rows) * (_CELL + _GAP + row_head)
    head = line_height(10.5) * len(title) + 6.0
    foot = line_height(SIZE) * len(note) + 6.0
    canvas = Canvas(width, head + len(blocks) * block + (len(blocks) - 1) * _GROUP_GAP + foot, look)
    top = canvas.height - 11.0
    for text in title:
        canvas.words(2.0, top, text, size=10.5, weight="semibold")
        top -= line_height(10.5)
    top = canvas.height - head
    for columns in blocks:
        _draw_block(canvas, board, columns, beside=beside, row_head=row_head, top=top, head=block_head)
        top -= block + _GROUP_GAP
    for i, text in enumerate(reversed(note)):
        canvas.words(2.0, 3.0 + i * line_height(SIZE), text, size=SIZE, colour=look.soft)
    return canvas


def _cell_width(board: Board, columns: list[int], room: float) -> float:
    gaps = sum(_gap(board, a, b) for a, b in itertools.pairwise(columns))
    return (room - gaps - 4.0) / max(len(columns), 1)


def _gap(board: Board, before: int, after: int) -> float:
    return _GAP if board.columns[before][0] == board.columns[after][0] else _GROUP_GAP


def _draw_block(
    canvas: Canvas, board: Board, columns: list[int], *, beside: float, row_head: float, top: float, head: float
) -> None:
    look = canvas.look
    wide = _cell_width(board, columns, canvas.width - beside)
    lefts: list[float] = []
    at = beside + 2.0
    for n, i in enumerate(columns):
        at += wide + _gap(board, columns[n - 1], i) if n else 0.0
        lefts.append(at)
    written = ""
    for i, left in zip(columns, lefts, strict=True):
        group, name = board.columns[i]
        if group != written:
            canvas.words(left, top - 10.0, group, size=10.0, weight="semibold")
            written = group
        canvas.words(left, top - 10.0 - line_height(SIZE) - 2.0, _cut(name, wide), colour=look.soft)
    ceiling = top - head
    for label, cells in board.rows:
        if beside:
            canvas.lines_of_words(
                2.0, ceiling - 0.5 * _CELL, wrap(label, beside - 14.0, 10.5, "semibold"), size=10.5, weight="semibold"
            )
        else:
            canvas.words(2.0, ceiling - 10.0, label, size=10.0, weight="semibold")
            ceiling -= row_head
        for i, left in zip(columns, lefts, strict=True):
            _draw_cell(canvas, cells[i], board.figure.kind, left=left, wide=wide, top=ceiling)
        ceiling -= _CELL + _GAP


def _cut(text: str, width: float) -> str:
    """Return a text that fits, cut at its end where it must be."""
    if text_width(text, SIZE) <= width:
        return text
    while text and text_width(text + "…", SIZE) > width:
        text = text[:-1]
    return text.rstrip() + "…"


def _draw_cell(canvas: Canvas, cell: BoardCell, kind: str, *, left: float, wide: float, top: float) -> None:
    look = canvas.look
    bottom, right = top - _CELL, left + wide
    fails = cell.chosen and not cell.fits
    colour = look.attention if fails else look.ink if cell.chosen else look.soft
    if cell.chosen:
        frame = [(left, bottom), (left, top), (right, top), (right, bottom), (left, bottom)]
        canvas.line(frame, colour, width=2.0 if fails else 1.0)
    inset = left + 8.0
    size = _LARGE if cell.chosen else _LESS
    figure = "none" if cell.at is None else number(cell.at, kind, sign=True)
    weight: Weight = "semibold" if cell.chosen else "regular"
    canvas.words(inset, top - 24.0, figure, size=size, weight=weight, colour=colour)
    unit = KINDS[kind].unit if cell.at is not None else ""
    canvas.words(inset + text_width(figure, size, weight) + 3.0, top - 24.0, unit, size=9.0, colour=look.soft)
    sign = STATE_SHAPES["look" if fails else "answered"] + " " if cell.chosen else ""
    shade = look.attention if fails else look.answered if cell.chosen else look.soft
    canvas.words(inset, top - 38.0, sign, size=9.0, colour=shade)
    canvas.words(
        inset + (text_width(sign + "i", 9.0) - text_width("i", 9.0)), top - 38.0, _cut(cell.words, wide - 18.0),
        size=9.0, weight=weight, colour=colour,
    )  # fmt: skip
    _draw_band(canvas, cell, kind, left=inset, right=right - 8.0, y=bottom + 19.0, colour=colour)


def _draw_band(canvas: Canvas, cell: BoardCell, kind: str, *, left: float, right: float, y: float, colour: str) -> None:
    """Draw what is wanted as a band on a line, its ends named, and where the figure stands on it."""
    look = canvas.look
    low, high = shown(cell.low, kind), shown(cell.high, kind)
    middle, half = 0.5 * (low + high), max(0.5 * (high - low), 1e-9)

    def place(value: float) -> float:
        share = (value - middle) / (_SPAN * half)
        return 0.5 * (left + right) + max(-1.0, min(1.0, share)) * 0.5 * (right - left)

    canvas.line([(left, y), (right, y)], look.line, width=1.0)
    canvas.bar(place(low), y - 3.5, place(high), y + 3.5, look.stock_fill)
    for value, si in ((low, cell.low), (high, cell.high)):
        x = place(value)
        canvas.line([(x, y - 3.5), (x, y + 3.5)], look.soft, width=0.8)
        canvas.words(x, y - 14.0, number(si, kind, sign=True), size=8.0, colour=look.soft, align="center")
    if cell.at is None:
        return
    value = shown(cell.at, kind)
    beyond = abs(value - middle) > _SPAN * half
    marker = ">" if value > middle else "<"
    x = place(value)
    if beyond:  # past the end of the line
        canvas.markers([(x, y)], marker, colour, size=6.0)
    else:
        canvas.line([(x, y - 6.5), (x, y + 6.5)], colour, width=2.6 if cell.chosen else 1.4)
