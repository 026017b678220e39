"""The first bytes of an ASAM MDF file: whether it is one, and whether it was cut off."""

from __future__ import annotations

HEAD = 104
"""How many bytes from the start are looked at."""
_MARKS = (b"MDF     ", b"UnFinMF ")


def is_mdf(head: bytes) -> bool:
    """Return whether bytes begin as an ASAM MDF file does."""
    return head[:8] in _MARKS


def points_beyond(head: bytes, size: int) -> int:
    """Return where the header says that the data groups begin, if that is beyond the end of the file; else 0.

    Writers put the blocks that describe the data last, so that a file cut off anywhere has lost them.

    Parameters
    ----------
    head : bytes
        The first `HEAD` bytes.
    size : int
        Of the whole file [bytes].
    """
    if head[64:68] == b"##HD":  # version 4: links of 8 bytes after 24 bytes of block header
        links = [int.from_bytes(head[at : at + 8], "little") for at in (88, 96)]
    elif head[64:66] == b"HD":  # version 3: the first link of 4 bytes; its byte order stands at byte 24
        links = [int.from_bytes(head[68:72], "little" if head[24:26] == b"\x00\x00" else "big")]
    else:
        return size + 1
    return max((link for link in links if link >= size), default=0)
