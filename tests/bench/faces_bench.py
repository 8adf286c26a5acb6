"""How many faces the search misses, and in how many photos of things it points at something.

    python tests/bench/faces_bench.py                  the faces that scikit-image carries, by size, turned, dark
    python tests/bench/faces_bench.py FOLDER ...       photos in which it points at something, to be looked at

The crops of LFW are 25 pixels wide: larger ones are blurred by that. A miss: no box over the middle of the face.
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent.parent)]

from catalog.test_faces import astronaut, is_found, on_grey  # noqa: E402

from curator.errors import PhotoError  # noqa: E402
from curator.seeing import photo  # noqa: E402
from curator.seeing.faces import faces  # noqa: E402

WIDE = (20, 30, 40, 60, 80, 120)


def main() -> None:
    if sys.argv[1:]:
        _photos([Path(one) for one in sys.argv[1:]])
        return
    for wide in WIDE:
        missed = sum(not is_found(on_grey(number, wide)) for number in range(100))
        print(f"LFW crops {wide:>3} px: {missed} of 100 missed", flush=True)
    turns = (0, 20, -20, 45, -45, 90, -90, 180)
    for wide in WIDE:
        turned = "".join(f"{'' if is_found(astronaut(wide, turn)) else ' missed'}{turn:>5}" for turn in turns)
        dark = "".join(
            f" {light:g}{'' if is_found(astronaut(wide, 0, light)) else ' missed'}" for light in (0.5, 0.25, 0.12)
        )
        print(f"astronaut {wide:>3} px: turned by{turned}; light{dark}", flush=True)


def _photos(folders: list[Path]) -> None:
    pointed = looked = 0
    for path in photo.photos_in(folders):
        try:
            found = faces(photo.load_large(path))
        except PhotoError:
            continue
        looked += 1
        if found:
            pointed += 1
            print(f"{path}: {len(found)}", flush=True)
    print(f"{pointed} of {looked} photos")


if __name__ == "__main__":
    main()
