"""Which column of a dyno file is which channel: names and units that are understood, and a mapping for the rest.

A title is a name and a unit: ``force [N]``, ``Kraft (kN)``, ``F / kN`` or ``F in kN``. Names are read without regard to
case; a name that could be two channels (t, T) is decided by its unit. Everything else is said by a mapping, such as
``{"force": "load cell 2 [kN]"}``.

=============  =========================================================  ==========================
channel        names                                                      units
=============  =========================================================  ==========================
run            run, sweep, lauf, messung, versuch                         none
time           time, t, zeit                                              s, ms, µs, us, min
displacement   displacement, s, x, position, travel, stroke, weg, hub     mm, m, cm, µm, um, in, inch
force          force, f, load, load cell, kraft                           N, kN, daN, kgf, lbf
velocity       velocity, speed, v, geschwindigkeit                        m/s, mm/s, cm/s, in/s
temperature    temperature, temp, t, oil temperature, temperatur          degC, °C, C, K, degF, °F
=============  =========================================================  ==========================
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

_INCH, _POUND, _KGF = 0.0254, 0.45359237, 9.80665  # exact by definition (NIST SP 811, appendix B)
#: factor and offset from a unit to SI (m, N, s, m/s, K), by channel; the first unit is the one to be shown
UNITS: dict[str, dict[str, tuple[float, float]]] = {
    "time": {"s": (1.0, 0.0), "ms": (1e-3, 0.0), "µs": (1e-6, 0.0), "us": (1e-6, 0.0), "min": (60.0, 0.0)},
    "displacement": {
        "mm": (1e-3, 0.0), "m": (1.0, 0.0), "cm": (1e-2, 0.0), "µm": (1e-6, 0.0), "um": (1e-6, 0.0),
        "in": (_INCH, 0.0), "inch": (_INCH, 0.0),
    },
    "force": {"N": (1.0, 0.0), "kN": (1e3, 0.0), "daN": (10.0, 0.0), "kgf": (_KGF, 0.0), "lbf": (_POUND * _KGF, 0.0)},
    "velocity": {"m/s": (1.0, 0.0), "mm/s": (1e-3, 0.0), "cm/s": (1e-2, 0.0), "in/s": (_INCH, 0.0)},
    "temperature": {
        "degC": (1.0, 273.15), "°C": (1.0, 273.15), "C": (1.0, 273.15), "K": (1.0, 0.0),
        "degF": (5.0 / 9.0, 459.67 * 5.0 / 9.0), "°F": (5.0 / 9.0, 459.67 * 5.0 / 9.0),
    },
}  # fmt: skip
#: names by channel, lower case; the first is the channel's own
WORDS: dict[str, tuple[str, ...]] = {
    "run": ("run", "sweep", "lauf", "messung", "versuch"),
    "time": ("time", "t", "zeit"),
    "displacement": ("displacement", "s", "x", "position", "travel", "stroke", "weg", "hub"),
    "force": ("force", "f", "load", "load cell", "kraft"),
    "velocity": ("velocity", "speed", "v", "geschwindigkeit"),
    "temperature": ("temperature", "temp", "t", "oil temperature", "temperatur"),
}
NEEDED = ("time", "displacement", "force")
EXAMPLE = "'run, time [s], displacement [mm], force [N]'"
_BRACKETS = re.compile(r"^(?P<name>[^\[\]()]*?)\s*[\[(]\s*(?P<unit>[^\[\]()]*?)\s*[\])]$")
_WORDED = re.compile(r"^(?P<name>.+?)\s*(?:\s/\s|\sin\s)\s*(?P<unit>\S+)$")


@dataclass(frozen=True, kw_only=True, slots=True)
class Channel:
    """Where a channel stands and how its numbers become SI: ``number * factor + offset``."""

    index: int
    title: str
    factor: float = 1.0
    offset: float = 0.0


def split_title(title: str) -> tuple[str, str | None]:
    """Return name and unit of a column's title; the unit is None where none is written.

    >>> split_title("Kraft [kN]"), split_title("F / kN"), split_title("run")
    (('Kraft', 'kN'), ('F', 'kN'), ('run', None))
    """
    text = title.strip().strip('"').strip()
    match = _BRACKETS.match(text) or _WORDED.match(text)
    if match is None:
        return text, None
    return match.group("name").strip(), match.group("unit").replace("\u03bc", "µ") or None


def recognised(titles: Sequence[str], given: Mapping[str, str] | None = None) -> int:
    """Return how many of `titles` name a channel that is understood or that `given` names."""
    known = {word for words in WORDS.values() for word in words}
    known |= {split_title(t)[0].lower() for t in (given or {}).values()}
    return sum(split_title(t)[0].lower() in known for t in titles)


def check_given(given: Mapping[str, str] | None) -> list[str]:
    """Return what is wrong with the channel names of a mapping."""
    return [
        f"the mapping names a channel {key!r}; there are {', '.join(WORDS)}" for key in given or {} if key not in WORDS
    ]


def match_channels(
    titles: Sequence[str],
    where: str,
    *,
    given: Mapping[str, str] | None = None,
    rate_given: bool = False,
) -> tuple[dict[str, Channel], list[str], list[str]]:
    """Return the channels found in a list of titles, what is wrong with them, and what was left out.

    Parameters
    ----------
    titles : sequence of str
        As they stand in the file, with their units.
    where : str
        Place of the titles, for messages ("line 3").
    given : mapping, optional
        Title by channel. It names the unit too where the file does not: ``{"force": "Kraft [kN]"}``.
    rate_given : bool
        Whether a sampling rate stands in for a time channel.
    """
    problems, left_out = check_given(given), list[str]()
    chosen: dict[str, Channel] = {}
    names = [split_title(t) for t in titles]
    wanted = {k: v for k, v in (given or {}).items() if k in WORDS}
    taken: set[int] = set()
    for key, title in wanted.items():
        at = _find(titles, title)
        if at is None:
            found = ", ".join(t.strip() for t in titles)
            problems.append(f"{where}: no column {title!r} for {key}, as the mapping says; found {found[:200]}")
            continue
        taken.add(at)
        stated, own = split_title(title)[1], names[at][1]
        if stated and own and stated != own:
            problems.append(f"{where}: the mapping says {title!r}, but the column's own unit is {own!r}")
        channel, wrong = _channel(key, at, titles[at], own or stated)
        problems += [f"{where}: {w}" for w in wrong]
        chosen[key] = channel
    for key, words in WORDS.items():
        if key in chosen or (key == "time" and rate_given):
            continue
        named = [i for i, (name, _) in enumerate(names) if name.lower() in words and i not in taken]
        full = [i for i in named if names[i][0].lower() == words[0]]
        good = [i for i in named if key == "run" or names[i][1] in UNITS[key]]
        if len(full) > 1:
            problems.append(f"{where}: column '{key}' stands twice")
            continue
        if not full and len(good) > 1:
            both = ", ".join(titles[i].strip() for i in good)
            problems.append(f"{where}: columns {both} could all be {key}; say which by a mapping {{{key!r}: ...}}")
            continue
        pick = full or good or [i for i in named if _only(names[i], key)]
        if not pick:
            continue
        channel, wrong = _channel(key, pick[0], titles[pick[0]], names[pick[0]][1])
        if wrong and key not in NEEDED:
            left_out += [f"{w}; it is left out" for w in wrong]
            continue
        problems += [f"{where}: {w}" for w in wrong]
        chosen[key] = channel
    return chosen, problems, left_out


def missing_channels(
    chosen: Mapping[str, Channel], titles: Sequence[str], where: str, *, rate_given: bool
) -> list[str]:
    """Return what to say about channels that are needed and not there."""
    missing = [k for k in NEEDED if k not in chosen and not (k == "time" and rate_given)]
    if not missing:
        return []
    found = ", ".join(t.strip() for t in titles) or "nothing"
    hint = ", or state the sampling rate" if missing == ["time"] else ", or map the columns by their titles"
    return [f"{where}: no column for {', '.join(missing)}; found {found[:200]}; expected {EXAMPLE}{hint}"]


def _only(title: tuple[str, str | None], key: str) -> bool:
    """Return whether a name belongs to this channel alone, so that a wrong unit is worth a message."""
    name = title[0].lower()
    return len(name) > 1 and sum(name in words for words in WORDS.values()) == 1 and name in WORDS[key]


def _find(titles: Sequence[str], wanted: str) -> int | None:
    """Return the column of a title that a mapping names: whole title first, then its name alone."""
    for same in (lambda t: t.strip().strip('"').strip(), lambda t: split_title(t)[0]):
        for at, title in enumerate(titles):
            if same(title).lower() == same(wanted).lower():
                return at
    return None


def _channel(key: str, at: int, title: str, unit: str | None) -> tuple[Channel, list[str]]:
    if key == "run":
        return Channel(index=at, title=title.strip()), []
    name = split_title(title)[0]
    if unit in UNITS[key]:
        factor, offset = UNITS[key][unit or ""]
        return Channel(index=at, title=title.strip(), factor=factor, offset=offset), []
    known = ", ".join(UNITS[key])
    found = "no unit" if unit is None else f"unit {unit!r}"
    return Channel(index=at, title=title.strip()), [
        f"column '{name.lower() if name.lower() == key else name}' has {found}; write it as "
        f"'{name} [{next(iter(UNITS[key]))}]' ({known})"
    ]
