"""Short studies take turns, so that ten people are answered in a row instead of all late; long ones do not wait."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from served import SMALL

from tussock.store import open_store
from tussock.web.desk import Choice, Desk
from tussock.web.places import PLACES, Place


def test_short_studies_take_turns_and_long_ones_run_beside_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    short, long = PLACES["targets"], PLACES["drive"]
    assert (short.long, long.long) == (False, True)
    with open_store(tmp_path / "store.db") as store:
        desk = Desk(store)
        versions = [store.programmes.create(f"{SMALL}\n# {i}\n", author="Anna", note="") for i in range(4)]
        answer = desk.result(versions[0], short, Choice())
        inside, crowd = 0, []
        guard, met = threading.Lock(), threading.Barrier(2)

        def run(place: Place, *_: object, **__: object) -> object:
            nonlocal inside
            if place.long:
                met.wait(timeout=60.0)  # two of them are inside at once, or this breaks
                return answer
            with guard:
                inside += 1
                crowd.append(inside)
            threading.Event().wait(0.02)
            with guard:
                inside -= 1
            return answer

        monkeypatch.setattr(Place, "run", run)
        with ThreadPoolExecutor(5) as pool:
            asked = [pool.submit(desk.result, v, short, Choice()) for v in versions[1:]]
            asked += [pool.submit(desk.result, v, long, Choice()) for v in versions[1:3]]
            assert all(one.result() is answer for one in asked)
        assert crowd == [1, 1, 1]
