"""A field edited in its place, differences in words, two edits of one version put together."""

from __future__ import annotations

import difflib
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.record import ProgrammeError, differences, field_problems, field_text, loads, merge, set_field
from tussock.record.edit import _with_scalar
from tussock.record.save import comparable
from tussock.record.tree import read_tree

DATA = Path(str(files("tussock"))) / "data"
RATE = "vehicle.axles.front.spring.rate"


def _changed_lines(before: str, after: str) -> list[str]:
    lines = difflib.unified_diff(before.splitlines(), after.splitlines(), n=0, lineterm="")
    return [line.strip("+- ") for line in lines if line[0] in "+-" and not line.startswith(("+++", "---"))]


@pytest.mark.parametrize(
    ("path", "typed", "was", "line"),
    [
        (RATE, "28 N/mm", "21.5 N/mm +- 0.6 N/mm", "rate: 28 N/mm"),
        (RATE, "123 lbf/in", "21.5 N/mm +- 0.6 N/mm", "rate: 123 lbf/in"),
        ("vehicle.tyre.friction", "0.9", "0.85", "friction: 0.9"),
        ("targets.side_to_side", "0.7 in", "10 mm", "side_to_side: 0.7 in"),
        ("targets.lift.bare.front", "36 mm", "35 mm", "bare: {front: 36 mm, rear: 45 mm, tolerance: 10 mm}"),
        ("targets.rules", "[nz_lvvta_195]", "[au_vsb14_ls, nz_lvvta_195, de_stvzo_19]", "rules: [nz_lvvta_195]"),
        ("programme.note", "Quoted: yes # no comment", None, "note: 'Quoted: yes # no comment'"),
    ],
)
def test_one_field_as_typed_is_one_line(tarn_text: str, path: str, typed: str, was: str | None, line: str) -> None:
    before = loads(tarn_text)
    after = set_field(before, path, typed)
    old, new = _changed_lines(before.text, after.text)
    assert new == line or new.startswith(f"{line} ")
    assert old.partition("#")[2] == new.partition("#")[2] or "comment" in new, "the comment stays"
    assert was is None or field_text(before, path) == was
    assert field_text(after, path) == typed
    assert loads(after.text).programme == after.programme


@pytest.mark.parametrize("demo", ["tarn", "dunnock"])
def test_a_bare_value_for_another_gives_what_reading_the_text_gives(demo: str) -> None:
    before = loads((DATA / demo / "programme.yaml").read_text())
    fields = [
        (path, span)
        for path, span in before.tree.spans.items()
        if not isinstance(_at(before.tree.data, path), dict | list)
    ]
    assert len(fields) > 400
    swift = 0
    for path, span in fields[:: len(fields) // 8]:
        for written in ("7.5", "28 N/mm +- 3 %", "true", "~", "a: b", "- 3"):
            made = _with_scalar(before, path, span, written)
            if made is None:
                continue
            swift += 1
            text = before.text[: span.start] + written + before.text[span.end :]
            assert made == read_tree(text, name="programme"), (path, written)
    assert swift > 16, "the short way is taken"
    anchored = (
        next(p for p, _ in fields if any(p[:i] in before.tree.anchored for i in range(len(p))))
        if demo == "tarn"
        else None
    )
    assert anchored is None or _with_scalar(before, anchored, before.tree.spans[anchored], "7.5") is None


def _at(data: Any, path: tuple[str | int, ...]) -> Any:
    for key in path:
        data = data[key]
    return data


def test_a_field_that_is_not_there_yet_and_one_taken_away(tarn_text: str) -> None:
    before = loads(tarn_text)
    path = "kit.springs.rear_main.load_tolerance"
    assert field_text(before, path) == ""
    given_now = set_field(before, path, "150 N")
    assert given_now.programme.kit.springs["rear_main"].load_tolerance is not None
    gone = set_field(given_now, path, "")
    assert gone.programme.kit.springs["rear_main"].load_tolerance is None


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("28", "28 has no unit"),
        ("28 mm", "'mm' is a length, wanted a rate"),
        ("28,5 N/mm", "decimal comma"),
        ("2800 N/mm", "outside what is plausible"),
        ("soft", "is not a number with a unit"),
    ],
)
def test_what_is_typed_wrong_is_said_of_the_field(tarn_text: str, typed: str, said: str) -> None:
    with pytest.raises(ProgrammeError) as caught:
        set_field(loads(tarn_text), RATE, typed)
    (message,) = field_problems(caught.value, RATE)
    assert said in message
    assert "write for example" in message


def test_a_field_of_a_shared_part_is_not_changed_behind_the_back_of_others(tarn_text: str) -> None:
    front, rear = (f"        arm_axle_{end}: " for end in ("front", "rear"))
    shared = "".join(
        f"{rear}*bush\n" if line.startswith(rear + "{") else line.replace(front + "{", front + "&bush {")
        for line in tarn_text.splitlines(keepends=True)
    )
    assert shared.count("bush {") == shared.count("*bush") == 1
    with pytest.raises(ProgrammeError, match="would change another one as well"):
        set_field(loads(shared), "vehicle.axles.front.bushes.arm_axle_front.radial", "2.5 kN/mm")


def test_differences_are_told_in_trade_words_with_units(tarn_text: str) -> None:
    new = tarn_text.replace("rate: 21.5 N/mm +- 0.6 N/mm", "rate: 22 N/mm", 1)
    new = new.replace("      - {name: winch and rope, mass: 38 kg", "      - {name: winch and rope, mass: 41 kg", 1)
    told = [str(d) for d in differences(tarn_text, new + "\n# only a comment\n")]
    assert told == [
        "front axle, spring, rate: 21.5 N/mm +- 0.6 N/mm became 22 N/mm",
        "fit-out winch, item winch and rope, mass: 38 kg became 41 kg",
    ]
    assert differences(tarn_text, tarn_text) == ()


def test_entries_of_lists_are_known_by_name_not_by_place() -> None:
    old = "items: [{name: rack, mass: 38 kg}, {name: winch, mass: 30 kg}]"
    new = "items: [{name: ropes, mass: 36 kg}, {name: winch, mass: 31 kg}, {name: rack, mass: 38 kg}]"
    told = [str(d) for d in differences(old, new)]
    assert told == [
        "item ropes: added: {name: ropes, mass: 36 kg}",
        "item winch, mass: 30 kg became 31 kg",
        "items: in another order",
    ]
    assert [d.kind for d in differences(new, old)] == ["changed", "removed", "moved"]


def test_true_is_not_one_and_nothing_is_not_absent() -> None:
    assert [str(d) for d in differences("a: true", "a: 1")] == ["a: true became 1"]
    assert [d.kind for d in differences("{a: null, b: 1}", "b: 1")] == ["removed"]


def test_edits_of_different_fields_go_together_and_keep_both_comments(tarn_text: str) -> None:
    mine = tarn_text.replace("rate: 21.5 N/mm +- 0.6 N/mm", "rate: 22 N/mm   # weighed again", 1)
    theirs = tarn_text.replace("front_left: 459 kg +- 2 kg", "front_left: 461 kg   # full tank", 1)
    merged = merge(tarn_text, mine, theirs)
    assert merged.clashes == ()
    assert merged.text is not None
    assert "# weighed again" in merged.text
    assert "# full tank" in merged.text
    assert {d.field for d in differences(tarn_text, merged.text)} == {RATE, "vehicle.corners.front_left"}


def test_edits_of_one_line_go_together_by_field(tarn_text: str) -> None:
    line = "bare: {front: 35 mm, rear: 45 mm, tolerance: 10 mm}"
    mine = tarn_text.replace(line, line.replace("35 mm", "36 mm"), 1)
    theirs = tarn_text.replace(line, line.replace("45 mm", "46 mm"), 1)
    merged = merge(tarn_text, mine, theirs)
    assert merged.text is not None
    assert line.replace("35 mm", "36 mm").replace("45 mm", "46 mm") in merged.text
    assert merged.text.count("#") == tarn_text.count("#")


def test_what_both_changed_is_theirs_to_decide(tarn_text: str) -> None:
    mine = tarn_text.replace("rate: 21.5 N/mm +- 0.6 N/mm", "rate: 22 N/mm", 1)
    theirs = tarn_text.replace("rate: 21.5 N/mm +- 0.6 N/mm", "rate: 23 N/mm", 1)
    merged = merge(tarn_text, mine, theirs)
    assert merged.text is None
    (clash,) = merged.clashes
    assert str(clash) == "front axle, spring, rate: was 21.5 N/mm +- 0.6 N/mm; yours 22 N/mm, theirs 23 N/mm"
    decided = merge(tarn_text, mine, theirs, choose={clash.field: "mine"})
    assert comparable(read_tree(decided.text or "", name="x").data) == comparable(read_tree(mine, name="x").data)
    assert merge(tarn_text, mine, theirs, choose={clash.field: "theirs"}).text == theirs


def test_one_takes_away_what_the_other_changed() -> None:
    base, mine, theirs = "items: [{name: rack, mass: 38 kg}]", "items: []", "items: [{name: rack, mass: 40 kg}]"
    (clash,) = merge(base, mine, theirs).clashes
    assert str(clash) == "item rack: was {name: rack, mass: 38 kg}; yours nothing, theirs {name: rack, mass: 40 kg}"


def test_both_add_to_a_list() -> None:
    base = "items:\n  - {name: rack, mass: 38 kg}  # on the roof\n"
    mine = base + "  - {name: ropes, mass: 36 kg}\n"
    theirs = base + "  - {name: winch, mass: 30 kg}\n"
    merged = merge(base, mine, theirs).text or ""
    assert [row["name"] for row in read_tree(merged, name="x").data["items"]] == ["rack", "winch", "ropes"]
    assert merged == theirs + "  - {name: ropes, mass: 36 kg}\n"


def test_two_entries_of_the_log_written_at_once_under_one_name_are_two_entries() -> None:
    was = "drives:\n  - {id: D1, note: first}\n"
    mine = was + "  - {id: D2, note: mine}\ncorrections:\n  - {id: C1, corrects: D2, why: wet}\n"
    theirs = was + "  - {id: D2, note: theirs}  # from the road\n"
    merged = merge(was, mine, theirs)
    assert (merged.clashes, dict(merged.renamed)) == ((), {"D2": "D3"})
    whole = read_tree(str(merged.text), name="merged").data
    assert [(row["id"], row["note"]) for row in whole["drives"]] == [("D1", "first"), ("D2", "theirs"), ("D3", "mine")]
    assert [row["corrects"] for row in whole["corrections"]] == ["D3"]
    assert "# from the road" in str(merged.text)
    both = was + "  - {id: D2, note: the same}\n"
    assert merge(was, both, both).renamed == {}


VALUES = st.dictionaries(st.sampled_from("abcdef"), st.integers(0, 3), max_size=6)
ROWS = st.lists(st.tuples(st.sampled_from("pqrs"), st.integers(0, 2)), max_size=4, unique_by=lambda row: row[0])
DOCUMENTS = st.builds(lambda fields, rows: {**fields, "rows": [{"name": n, "v": v} for n, v in rows]}, VALUES, ROWS)


def _text(document: dict[str, object]) -> str:
    import json

    return json.dumps(document)  # is YAML too


def _loose(text: str | None) -> object:
    data = read_tree(text or "", name="x").data
    return {**data, "rows": sorted(data["rows"], key=lambda row: row["name"])}


@settings(max_examples=40)
@given(base=DOCUMENTS, mine=DOCUMENTS, theirs=DOCUMENTS)
def test_merging_does_not_depend_on_who_is_first(
    base: dict[str, object], mine: dict[str, object], theirs: dict[str, object]
) -> None:
    one, other = merge(_text(base), _text(mine), _text(theirs)), merge(_text(base), _text(theirs), _text(mine))
    assert {c.field for c in one.clashes} == {c.field for c in other.clashes}
    assert (one.text is None) == (other.text is None) == bool(one.clashes)
    if one.text is not None:
        assert _loose(one.text) == _loose(other.text)


@settings(max_examples=40)
@given(base=DOCUMENTS, mine=DOCUMENTS)
def test_merging_with_what_was_not_edited_gives_the_edit(base: dict[str, object], mine: dict[str, object]) -> None:
    for merged in (merge(_text(base), _text(mine), _text(base)), merge(_text(base), _text(mine), _text(mine))):
        assert not merged.clashes
        assert _loose(merged.text) == _loose(_text(mine))


@settings(max_examples=40)
@given(old=DOCUMENTS, new=DOCUMENTS)
def test_differences_are_none_only_between_the_same(old: dict[str, object], new: dict[str, object]) -> None:
    told = differences(_text(old), _text(new))
    assert bool(told) == (old != new)
    assert len({(d.path, d.kind) for d in told}) == len(told)
