"""Saves at random until it is killed; says on stdout what was acknowledged. Run by the test with a store and a seed."""

from __future__ import annotations

import io
import random
import sys
import uuid
from pathlib import Path

from tussock.store import open_store

SAMPLE = Path(__file__).parents[2] / "docs" / "examples" / "tarn-small.yaml"
KINDS, WEIGHTS = ("create", "save", "attach", "entry"), (2, 14, 3, 1)


def main(url: str, seed: int, saves: int) -> None:
    chance = random.Random(seed)
    text = SAMPLE.read_text(encoding="utf-8")
    with open_store(url) as store:
        programmes = store.programmes
        number = {e.id: e.newest.number for e in programmes.list()}
        for i in range(saves):
            kind = chance.choices(KINDS, WEIGHTS)[0] if number else "create"
            programme = chance.choice(sorted(number)) if number else 0
            if kind == "create":
                made = programmes.create(f"{text}# {i % 5}\n", author="Ailsa")
                number[made.programme_id] = 1
                said = f"version {made.programme_id} 1 {made.digest}"
            elif kind == "save":
                base = number[programme]
                made = programmes.save(programme, f"{text}# {i % 5}\n", base=base, author="Brodie", note=str(i))
                number[programme] = made.number
                said = f"version {programme} {made.number} {made.digest}"
            elif kind == "attach":
                file = store.files.attach(io.BytesIO(chance.randbytes(chance.randrange(1, 3_000_000))), f"{i}.bin")
                said = f"file {file.digest}"
            else:
                name = str(uuid.UUID(int=chance.getrandbits(128)))
                entry = store.entries.add(
                    programme, name, {"date": "2026-11-28", "by": "Ailsa", "text": str(i)}, part="notes", author="Ailsa"
                )
                number[programme] = entry.version or number[programme]
                said = f"entry {name}"
            print(said, flush=True)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
