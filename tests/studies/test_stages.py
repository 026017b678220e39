"""Every stage of the invented Tarn and Dunnock, run once on a short loop: the rules that all Results keep."""

from __future__ import annotations

import dataclasses
import json
import re
from collections.abc import Iterator

import pytest
from vary_programme import Vary

from tussock.errors import AssemblyError, InputError, SolverError, TussockError
from tussock.studies import heights, model
from tussock.studies.display import KINDS
from tussock.studies.job import Job, Setup
from tussock.studies.result import LineChart, Result, Span
from tussock.studies.stages import STAGES, Stage, run_before_release

NAMES = ("baseline", "targets", "heights", "travel", "springs", "geometry", "dampers", "drive", "tuning", "release")
SHORT = [
    {"name": "gravel", "speed": "60 km/h", "length": "120 m", "surface": {"class": "C"}},
    {"name": "lane", "speed": "40 km/h", "length": "80 m", "surface": {"class": "D"}},
]
#: A name of `values` ends in its SI unit, or says that it is a pure number.
SUFFIX = re.compile(r"_(m|rad|kg|K|Hz|N|m_per_s2|share|ratio|index|factor)$")


def _stage(name: str) -> Stage:
    return next(s for s in STAGES if s.name == name)


@pytest.fixture(scope="module", params=["tarn", "dunnock"])
def short(request: pytest.FixtureRequest, vary: Vary, vary_dunnock: Vary) -> Job:
    return {"tarn": vary, "dunnock": vary_dunnock}[str(request.param)]({"road_loop.sections": SHORT})


@pytest.fixture(scope="module")
def results(short: Job) -> dict[str, Result]:
    return {stage.name: stage.run(short) for stage in STAGES}


def test_the_stages_in_the_order_of_the_job() -> None:
    assert tuple(s.name for s in STAGES) == NAMES


def test_a_stage_runs_once_for_each_choice(short: Job, results: dict[str, Result]) -> None:
    for stage in STAGES:
        assert stage.run(short) is results[stage.name]
    travel = next(s for s in STAGES if s.name == "travel")
    other = list(short.programme.fitouts)[-1]
    assert travel.run(short, fitout=other) is not results["travel"]
    assert run_before_release(short) == tuple(results[n] for n in NAMES[:-1])


@pytest.mark.parametrize("name", NAMES)
def test_question_and_stage_agree(name: str, results: dict[str, Result]) -> None:
    stage = next(s for s in STAGES if s.name == name)
    assert (results[name].stage, results[name].question) == (name, stage.question)
    assert stage.question.endswith("?")


@pytest.mark.parametrize("name", NAMES)
def test_the_answer_is_one_or_two_plain_sentences_with_figures(name: str, results: dict[str, Result]) -> None:
    answer = results[name].answer
    assert answer == answer.strip()
    assert answer[0].isupper()
    assert answer.endswith(".")
    assert 1 <= len(re.findall(r"[.?!](?:\s|$)", answer)) <= 2
    assert any(c.isdigit() for c in answer)
    assert not re.search(r"[*_`<>{}\[\]#]|nan|inf\b|none\b|None", answer)
    assert not re.search(r"(?<![\w])-\d", answer), "a minus is a minus sign, not a hyphen"


@pytest.mark.parametrize("name", NAMES)
def test_every_notice_says_what_and_what_to_do(name: str, results: dict[str, Result]) -> None:
    for notice in results[name].notices:
        assert notice.text
        assert notice.remedy


@pytest.mark.parametrize("name", NAMES)
def test_json_is_strict_and_every_number_has_its_unit(name: str, results: dict[str, Result]) -> None:
    plain = json.loads(json.dumps(results[name].as_json(), allow_nan=False))
    for table in plain["tables"]:
        for i, column in enumerate(table["columns"]):
            assert column["unit"] == KINDS[column["kind"]].si_unit
            numbers = [r[i] for r in table["rows"] if isinstance(r[i], (int, float)) and not isinstance(r[i], bool)]
            assert not numbers or column["kind"] != "text", f"{table['key']}.{column['key']} holds bare numbers"
    for picture in plain["pictures"]:
        for axis in ("x", "y"):
            assert axis not in picture or "unit" in picture[axis]
    for key, value in plain["values"].items():
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            assert SUFFIX.search(key), f"{name}: value {key} does not end in a unit"


@pytest.mark.parametrize("name", NAMES)
def test_no_picture_holds_a_hole(name: str, results: dict[str, Result]) -> None:
    def numbers(part: object) -> Iterator[float]:
        if isinstance(part, LineChart):
            assert all(len(line.x) == len(line.y) > 0 for line in part.lines)
        elif isinstance(part, Span):
            assert part.low < part.high
        if isinstance(part, float):
            yield part
        elif isinstance(part, tuple):
            for one in part:
                yield from numbers(one)
        elif dataclasses.is_dataclass(part):
            for field in dataclasses.fields(part):
                yield from numbers(getattr(part, field.name))

    assert results[name].pictures
    for picture in results[name].pictures:
        found = list(numbers(picture))
        assert found
        assert all(abs(v) < float("inf") for v in found)


def test_provenance_names_the_programme_and_the_seed(results: dict[str, Result]) -> None:
    assert {r.provenance.digest for r in results.values()} == {results["baseline"].provenance.digest}
    assert all(r.provenance.data == "invented" for r in results.values())
    assert [n for n in NAMES if results[n].provenance.seed is not None] == [
        "springs",
        "drive",
        "tuning",
        "release",
    ]


# ------------------------------------------------------------------------------------ what cannot be, through studies


@pytest.mark.parametrize(("fitout", "build"), [("nothing", None), (None, "B9")])
def test_names_that_are_not_there(fitout: str | None, build: str | None, short: Job) -> None:
    for stage in STAGES[3:]:
        with pytest.raises(InputError, match=r"there is no (fit-out 'nothing'|build 'B9'); the programme has"):
            stage.run(short, fitout=fitout, build=build)


def test_a_bracket_that_cannot_be_put_together(vary: Vary) -> None:
    job = vary({"kit.changes.front": {"track_rod_axle@axle": "118, -458, 2500 mm"}})
    with pytest.raises(
        AssemblyError, match=r"front axle: .* cannot be put together .* track_rod is [\d.]+ mm too short"
    ):
        _stage("geometry").run(job)


def test_a_bracket_so_far_out_that_the_axle_locks(vary: Vary) -> None:
    job = vary({"kit.changes.front": {"track_rod_axle@axle": "118, -458, 800 mm"}})
    with pytest.raises(
        SolverError, match=r"front axle: the linkage could not be solved at heave .* it moves freely to"
    ):
        _stage("travel").run(job)


def test_springs_that_throw_the_axle_out_of_its_map(vary: Vary) -> None:
    job = vary({"kit.springs.front_standard.free_length": "800 mm"})
    with pytest.raises(SolverError, match=r"the vehicle rests outside its axle maps .* too soft or too stiff"):
        model.posture(job, Setup("bare", "B3"))


def test_a_spring_far_too_soft_rests_on_its_bump_stop_and_fails(vary: Vary) -> None:
    job = vary({"kit.springs.front_standard.rate": "9 N/mm"})
    assert float(model.rest(job, Setup("bare", "B3")).stop_force[0]) > 100.0
    assert not heights.study(job).passes


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("vehicle.axles.front.hardpoints.spring_chassis", "2, 458, 400 mm"),
        ("vehicle.axles.front.mass", "1000 kg"),
        ("fitouts.bare.springs.front", "no_such_spring"),
        ("builds.B1.dampers.front", "no_such_damper"),
        ("targets.droop.front", "70"),
    ],
)
def test_what_the_record_refuses_never_reaches_a_study(field: str, value: str, vary: Vary) -> None:
    with pytest.raises(TussockError, match=field.rpartition(".")[0].replace(".", r"\.")):
        vary({field: value})
