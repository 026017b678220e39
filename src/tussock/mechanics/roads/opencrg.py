"""Road surfaces in ASAM OpenCRG, through the library pycrg (extra ``crg``), which carries the standard's own reader."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.table_text import TableError

_EXTRA = "reading ASAM OpenCRG needs the library pycrg; install it with: pip install 'tussock[crg]'"
_FORMATS = ("LRFI", "LDFI", "KRBI", "KDBI")
_HEAD = 100_000  # bytes in which the blocks of a file's head stand


def is_grid(raw: bytes) -> bool:
    """Return whether bytes are an OpenCRG file: its parameters stand in a block of this name."""
    return b"$ROAD_CRG" in raw[:_HEAD].upper()


def read_grid(raw: bytes, name: str) -> tuple[Floats, Floats, Floats]:
    """Read an OpenCRG file, text or binary.

    Parameters
    ----------
    raw : bytes
        Content of the file.
    name : str
        What it is called, for messages.

    Returns
    -------
    along : array (n,)
        Along the reference line [m].
    across : array (m,)
        Left of the reference line, rising [m].
    heights : array (n, m)
        With the reference line's slope and banking and the file's own modifiers in them; NaN where the file holds no
        height [m]. The library keeps them in single precision.

    Raises
    ------
    TableError
        When it cannot be read, in the library's words, or is cut off.
    """
    try:
        import pycrg
    except ModuleNotFoundError:
        raise TableError(name, [_EXTRA]) from None
    if b"$ROAD_CRG_FILE" in raw[:_HEAD].upper():
        raise TableError(name, ["its data stand in another file; give one that holds its own"])
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "road.crg"
        place.write_bytes(raw)
        try:
            with pycrg.DataSet.open(place, apply_modifiers=False) as data:
                holes = ~np.isfinite(data.grid().z)
                data.modifiers_apply()  # they may fill holes; what was not measured stays so
                grid, head = data.grid(), data.header
        except pycrg.OpenCRGError as error:
            said = str(error).replace(str(place), name)
            raise TableError(name, [f"this OpenCRG file cannot be read: {said}"]) from None
    if head.data_format not in _FORMATS:  # the library takes an unknown one for binary
        raise TableError(name, [f"its data are said to be {head.data_format!r}; known are {', '.join(_FORMATS)}"])
    said_end, end = head.road.get("reference_line_end_u"), float(grid.u[-1])
    if isinstance(said_end, float) and end < said_end - 0.5 * float(grid.u[1] - grid.u[0]):
        # the library reads text to where it ends
        raise TableError(name, [f"it is cut off: its head says {said_end:g} m, its data end at {end:g} m"])
    heights = np.where(holes, np.nan, grid.elevation)
    return np.asarray(grid.u), np.asarray(grid.v), np.asarray(heights, dtype=np.float64)
