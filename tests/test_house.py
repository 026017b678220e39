"""What holds for the whole repository: file names, file lengths, what may not stand in it."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "tussock"

#: A compiled kernel's helpers must stand in its file: the cache on disk does not see edits elsewhere.
LONG_BY_RIGHT = {"kernels.py"}
LONGEST = 500


def test_no_two_test_modules_share_a_name() -> None:
    names = Counter(p.name for p in (ROOT / "tests").rglob("*.py") if p.name != "conftest.py")
    assert [n for n, count in names.items() if count > 1] == []


def test_a_file_holds_one_idea() -> None:
    long = {
        str(p.relative_to(ROOT)): lines
        for p in SOURCE.rglob("*.py")
        if p.name not in LONG_BY_RIGHT and (lines := len(p.read_text(encoding="utf-8").splitlines())) > LONGEST
    }
    assert long == {}


def test_every_python_file_says_what_it_is() -> None:
    bare = [str(p.relative_to(ROOT)) for p in SOURCE.rglob("*.py") if not _starts_with_words(p)]
    assert bare == []


def _starts_with_words(path: Path) -> bool:
    return path.read_text(encoding="utf-8").lstrip().startswith('"""')
