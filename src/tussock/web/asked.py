"""Studies that take more than one text becomes one argument: each is called with what its page asks."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from tussock.record.scales import SCALES
from tussock.studies import build_sheet as sheet
from tussock.studies import carry_over as carry
from tussock.studies import dyno as bench
from tussock.studies import valving_batch, valving_search
from tussock.studies.job import Job
from tussock.studies.result import Result
from tussock.studies.section_channels import CHANNELS
from tussock.web.further import Option

if TYPE_CHECKING:
    from tussock.store import Store, Version

_TRIED = 20_000  # stacks that a search tries at most


def attributes(store: Store, version: Version, job: Job) -> Sequence[Option]:
    """Return in what respects drivers judge, the whole of it first."""
    named = sorted(SCALES, key=lambda key: key != "overall")
    return tuple(Option(key=key, words=SCALES[key].title) for key in named)


def channels(store: Store, version: Version, job: Job) -> Sequence[Option]:
    """Return the channels of a driven section."""
    return tuple(Option(key=channel.key, words=channel.title) for channel in CHANNELS.values())


def dyno(job: Job, *, file: str, damper: str = "") -> Result:
    """Ask what an attached sweep shows, against a damper of the programme where one is named."""
    from tussock.mechanics.dampers import read_file
    from tussock.studies.dyno_references import references

    path = job.loaded.file(file)
    test = job.dyno_tests.get(file) or read_file(path)
    held = references(job, damper, temperature=test.mean_temperature) if damper else ()
    others = tuple(one for one in held if one.unit is not test)  # against itself a sweep says nothing
    if others and len(others) < len(held):
        held = (replace(others[0], judged=True), *others[1:])
    return bench.study([test], references=held, digest=hashlib.sha256(path.read_bytes()).hexdigest())


def find_stack(
    job: Job,
    *,
    fitout: str | None,
    damper: str,
    stroke: str,
    place: str,
    band: str,
    changes: int,
    forces: Sequence[str] = (),
    ratios: Sequence[str] = (),
) -> Result:
    """Ask which discs of the stock give a wanted curve."""
    want = valving_search.read_want(
        damper=damper,
        stroke=stroke,
        place=place,
        forces=forces,
        ratios=ratios,
        band=band,
        fitout=fitout,
        changes=changes,
        tried=_TRIED,
    )
    return valving_search.study(job, want)


def build_sheet(job: Job, *, damper: str) -> Result:
    """Ask for the build sheet of one damper."""
    return sheet.study(job, damper)


def batch(job: Job, *, damper: str, file: tuple[str, str]) -> Result:
    """Ask whether a batch passes; its table as content and name."""
    text, name = file
    return valving_batch.study(job, damper, text, name=name)


def carry_over(job: Job, *, fitout: str | None, build: str | None, earlier: Job) -> Result:
    """Ask which parts of an earlier kit fit."""
    return carry.study(job, earlier, fitout=fitout, build=build)
