"""Files that are no programmes: empty, huge, binary, bombs, tags, and files that lead out of their folder."""

from __future__ import annotations

import copy
import json
import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tussock.errors import InputError, TussockError
from tussock.record import Problem, ProgrammeError, load, loads
from tussock.record.attached import LARGEST_DYNO
from tussock.record.load import LARGEST
from tussock.record.tree import read_tree


def faults(text: str) -> tuple[Problem, ...]:
    with pytest.raises(ProgrammeError) as caught:
        loads(text, "bad.yaml")
    assert isinstance(caught.value, InputError)
    assert isinstance(caught.value, TussockError)
    return caught.value.problems


@pytest.mark.parametrize("text", ["", "\n\n", "# nothing but a comment\n", "---\n", "~"])
def test_an_empty_file(text: str) -> None:
    assert faults(text)[0].wrong == "the file is empty"


@pytest.mark.parametrize("text", ["- a\n- b\n", "just words", "3", "true"])
def test_a_file_that_is_no_mapping(text: str) -> None:
    assert "mapping of fields" in faults(text)[0].wrong


def test_a_file_of_50_megabytes_is_refused_before_it_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "huge.yaml"
    with path.open("wb") as stream:
        stream.truncate(50_000_000)
    monkeypatch.setattr(Path, "open", lambda *_, **__: pytest.fail("it was opened"))
    with pytest.raises(ProgrammeError) as caught:
        load(path)
    # once, and not wrapped in another message (it was)
    assert [p.wrong for p in caught.value.problems] == ["the file has 50.0 MB; a programme has at most 5 MB"]


def test_a_long_text_is_refused() -> None:
    assert "at most" in faults("a: " + "x" * (LARGEST + 1))[0].wrong


@pytest.mark.parametrize(
    "raw", [b"\x00\x01\x02PK", b"\x89PNG\r\n\x1a\n\x00\x00", b"format: 1\n\xff\xfe\x00", os.urandom(2000) + b"\x00\xff"]
)
def test_a_binary_file(tmp_path: Path, raw: bytes) -> None:
    path = tmp_path / "binary.yaml"
    path.write_bytes(raw)
    with pytest.raises(ProgrammeError, match=r"a binary file|not UTF-8|not readable"):
        load(path)


def test_characters_that_json_escapes_in_halves_are_put_together() -> None:
    """JSON is YAML as well. Two halves as a field's name went through to the checks and broke them there."""
    found = faults('{"format": 1, "\\ud802\\udd6e": null}')
    assert any("1096e" in p.path for p in found), found


def test_text_in_another_encoding_names_the_line(tmp_path: Path) -> None:
    path = tmp_path / "latin.yaml"
    path.write_bytes("format: 1\nprogramme: {name: Tärn}\n".encode("latin-1"))
    with pytest.raises(ProgrammeError, match=r"latin.yaml:2: not UTF-8 text: byte \d+ \(0xe4\)"):
        load(path)


def test_a_missing_file_and_a_folder(tmp_path: Path) -> None:
    with pytest.raises(ProgrammeError, match="there is no such file"):
        load(tmp_path / "none.yaml")
    with pytest.raises(ProgrammeError, match="this is a folder"):
        load(tmp_path)
    with pytest.raises(ProgrammeError, match=r"no such file|cannot be read"):
        load("null\x00character")


def test_a_bomb_of_aliases() -> None:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 10)}]" for i in range(1, 12)]
    assert "aliases written out" in faults("\n".join(lines))[-1].wrong


def test_a_bomb_of_merges() -> None:
    lines = ["a0: &a0 {k0: 1, k1: 1}"]
    lines += [f"a{i}: &a{i} {{<<: [{', '.join([f'*a{i - 1}'] * 20)}]}}" for i in range(1, 12)]
    assert faults("\n".join(lines))


def test_an_alias_inside_itself() -> None:
    assert "inside itself" in faults("a: &a [*a]")[0].wrong
    assert "names nothing" in faults("a: *b")[0].wrong


def test_a_deep_file() -> None:
    assert "deeper than" in faults("a: " + "[" * 5000)[0].wrong
    assert "deeper than" in faults("".join(" " * i + "a:\n" for i in range(200)))[0].wrong


def test_a_file_of_many_fields() -> None:
    assert "no programme is that large" in faults("\n".join(f"a{i}: 1" for i in range(60_000)))[0].wrong


@pytest.mark.parametrize(
    "tag", ["!!python/object/apply:os.system [ls]", "!foo bar", "!!binary aGk=", "!!set {a}", "!<tag:x,2000:y> z"]
)
def test_tags_are_refused(tag: str) -> None:
    (problem,) = faults(f"format: 1\nprogramme: {tag}\n")
    assert problem.line == 2
    assert problem.path == "programme"
    assert "tags are not allowed" in problem.wrong


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("format: 1\n\tprogramme: x\n", "a tab"),
        ("programme: a: b\n", "second colon"),
        ("a: 'x\n", "quote"),
        ("a: {b: 1\nc: 2\n", "not closed"),
        ("a: 1\n---\nb: 2\n", "second document"),
        ("? [a, b]\n: c\n", "field name must be plain text"),
        ("%YAML 9.9\n---\na: 1\n", ""),
        ("a: \x07\n", "not a text"),
        ("a: 1\n<<: 3\n", "merges a mapping"),
    ],
)
def test_texts_that_are_no_yaml(text: str, said: str) -> None:
    problem = faults(text)[0]
    assert said in problem.wrong
    assert "\n" not in problem.wrong


def test_aliases_and_merges_of_honest_size_are_read(tarn_text: str) -> None:
    text = tarn_text.replace("{name: steel bumper, mass: 46", "&bumper {name: steel bumper, mass: 46", 1)
    before, after = text.rsplit('{name: steel bumper, mass: 46 kg, at: "640, 0, 560 mm"}', 1)
    programme = loads(before + "*bumper" + after).programme
    assert programme.fitouts["rescue"].items[0] == programme.fitouts["winch"].items[0]


@pytest.mark.parametrize("written", ["../secret.csv", "/etc/passwd", "dyno/../../x.csv", "C:x.csv", "a\\\\b.csv"])
def test_a_file_outside_the_folder_is_refused(tarn_folder: Path, written: str) -> None:
    path = tarn_folder / "programme.yaml"
    (tarn_folder.parent / "secret.csv").write_text("secret")
    path.write_text(path.read_text().replace("dyno: dyno/stock-front.csv", f'dyno: "{written}"', 1))
    with pytest.raises(ProgrammeError) as caught:
        load(path)
    (problem,) = caught.value.problems
    assert problem.path == "vehicle.axles.front.damper.dyno"
    assert "must lie in the programme's folder" in problem.wrong
    assert "secret" not in problem.wrong


def test_a_link_out_of_the_folder_is_refused(tarn_folder: Path) -> None:
    (tarn_folder.parent / "secret.csv").write_text("secret")
    target = tarn_folder / "dyno" / "stock-front.csv"
    target.unlink()
    target.symlink_to(tarn_folder.parent / "secret.csv")
    with pytest.raises(ProgrammeError, match="must lie in the programme's folder"):
        load(tarn_folder / "programme.yaml")


def test_missing_and_huge_dyno_files(tarn_folder: Path) -> None:
    dyno = tarn_folder / "dyno"
    (dyno / "front-a.csv").unlink()
    with (dyno / "front-c.csv").open("wb") as stream:
        stream.truncate(LARGEST_DYNO + 1)
    with pytest.raises(ProgrammeError) as caught:
        load(tarn_folder / "programme.yaml")
    said = {p.path: p.wrong for p in caught.value.problems}
    assert said == {
        "kit.dampers.front_a.dyno": "there is no such file beside the programme",
        "kit.dampers.front_c.dyno": "a dyno file of more than 50 MB",
    }
    assert load(tarn_folder / "programme.yaml", check_files=False).hashes == {}


def test_a_binary_dyno_file_is_kept_and_refused_when_it_is_read(tarn_folder: Path) -> None:
    """The record keeps bytes, since a sweep may be ASAM MDF; who reads the sweep says that these are none."""
    from tussock.errors import InputError
    from tussock.studies.job import Job

    (tarn_folder / "dyno" / "front-b.csv").write_bytes(b"\x00\x01")
    loaded = load(tarn_folder / "programme.yaml")
    assert loaded.files["dyno/front-b.csv"] == b"\x00\x01"
    with pytest.raises(InputError, match=r"dyno/front-b\.csv: the file is binary; export the sweeps as text"):
        _ = Job(loaded).dyno_tests


def test_a_path_of_the_programme_is_resolved_only_inside(tarn_folder: Path) -> None:
    loaded = load(tarn_folder / "programme.yaml")
    assert loaded.file("dyno/front-a.csv").is_file()
    with pytest.raises(ProgrammeError, match="leaves the folder"):
        loaded.file("../x")
    with pytest.raises(ProgrammeError, match="no folder"):
        loads(loaded.text).file("dyno/front-a.csv")


JUNK = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=12),
    st.sampled_from(
        [
            "28 N/mm",
            "-1 mm",
            "0 mm",
            "1, 2, 3 mm",
            "nan kg",
            "[]",
            "{}",
            "{x: 1 mm, y: 2 mm, z: 3 mm}",
            "*x",
            "&y 3",
            "!!int 3",
            "1 mm: 2 N",
        ]
    ),
    st.lists(st.integers(), max_size=3),
)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(data=st.data())
def test_any_spoilt_programme_is_read_or_refused_in_words(tarn_text: str, data: st.DataObject) -> None:
    """Lines cut, doubled, moved, and values replaced: never anything but ProgrammeError, and every problem is whole."""
    lines = tarn_text.splitlines()
    for _ in range(data.draw(st.integers(1, 4))):
        i = data.draw(st.integers(0, len(lines) - 1))
        match data.draw(st.sampled_from(["cut", "double", "value", "indent", "character", "swap"])):
            case "cut":
                del lines[i]
            case "double":
                lines.insert(i, lines[i])
            case "value":
                lines[i] = lines[i].split(":")[0] + ": " + str(data.draw(JUNK))
            case "indent":
                lines[i] = " " * data.draw(st.integers(0, 9)) + lines[i].strip()
            case "character":
                at = data.draw(st.integers(0, len(lines[i])))
                lines[i] = lines[i][:at] + data.draw(st.characters()) + lines[i][at:]
            case "swap":
                j = data.draw(st.integers(0, len(lines) - 1))
                lines[i], lines[j] = lines[j], lines[i]
    read_or_refused("\n".join(lines))


def read_or_refused(text: str) -> None:
    try:
        loads(text)
    except ProgrammeError as error:
        assert_whole(error.problems, str(error))


def assert_whole(problems: tuple[Problem, ...], said: str) -> None:
    assert problems, said
    for problem in problems:
        assert problem.wrong
        assert problem.line >= 0
        assert str(problem).isprintable(), "one line, and nothing that steers a terminal"
        assert len(str(problem)) < 3000


@settings(max_examples=150, deadline=None)
@given(st.text(alphabet=st.sampled_from(" \n\t:-?[]{}&*!|>'\"%@`#,abc012.~<=\\"), max_size=60))
def test_any_text_of_yaml_signs_is_refused_in_words(text: str) -> None:
    read_or_refused(text)


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=80))
def test_any_text_is_refused_in_words(text: str) -> None:
    read_or_refused(text)


@settings(max_examples=100, deadline=None)
@given(raw=st.binary(max_size=200))
def test_any_bytes_are_refused_in_words(raw: bytes, tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.getbasetemp() / "bytes.yaml"
    path.write_bytes(raw)
    with pytest.raises(ProgrammeError):
        load(path)


VALUES = st.recursive(
    JUNK | st.sampled_from(["stock", "link", "bush", "line", "{wrong}", "[key]", "1e308 mm", "1e308, 1e308, 1 mm"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=9), inner, max_size=3),
    max_leaves=6,
)


def paths(node: object, at: tuple[object, ...] = ()) -> list[tuple[object, ...]]:
    children = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return [p for key, value in children for p in ((*at, key), *paths(value, (*at, key)))]


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_wrong_kind_of_value_in_any_place_is_refused_in_words(tarn_text: str, data: st.DataObject) -> None:
    """JSON is YAML as well: replace or cut whole fields of the document, by anything."""
    tree = copy.deepcopy(read_tree(tarn_text, name="sample").data)
    for _ in range(data.draw(st.integers(1, 4))):
        path = data.draw(st.sampled_from(paths(tree)))
        node: Any = tree
        for key in path[:-1]:
            node = node[key]
        if data.draw(st.booleans()):
            node[path[-1]] = data.draw(VALUES)
        else:
            del node[path[-1]]
    read_or_refused(json.dumps(tree).replace("NaN", ".nan").replace("Infinity", ".inf"))
