"""Pictures that cannot be used, by the real command: ``python -m tests.hard.bad_pictures --megapixels 12``.

Each case is what a planner may hand to `sheetplan rack picture` by mistake. Asked of every one: it ends
with a documented exit code and one sentence that says what is wrong, nothing is recorded, and it takes no
more time and memory than is promised. A good picture, and the same turned by its
EXIF, are measured beside them.
"""

from __future__ import annotations

import argparse
import io
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from tests.app.cut_book import planned_book
from tests.hard.command import Ran, run
from tests.hard.pictures import photographed
from tests.pictures.scenes import make_scene

SECONDS, MEGABYTES = 10.0, 1000.0
"""Processor time and memory of one command at most; waiting for a busy machine does not count."""

INCH = 25.4
SIZE = (36.0, 26.0)
"""Length and width of the sheet, inches."""

TAG = "R-030"


@dataclass(frozen=True)
class Case:
    """What is handed over, and what has to be said; ``longer`` is how much longer the row says the sheet is.

    ``make`` gives the file's bytes from the good picture's; None where no file is written.
    """

    name: str
    make: Callable[[bytes], bytes] | None
    says: str
    ending: str = "jpg"
    longer: float = 1.0


def _saved(picture: Image.Image, kind: str = "JPEG", **more: object) -> bytes:
    written = io.BytesIO()
    picture.save(written, kind, **more)
    return written.getvalue()


def _opened(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data))


def _huge(kind: str) -> bytes:
    """A hundred megapixels of grey noise in squares."""
    small = np.random.default_rng(1).integers(60, 190, (250, 400, 3), np.uint8)
    return _saved(Image.fromarray(small).resize((12_500, 8_000), Image.Resampling.NEAREST), kind)


def _without_marks(data: bytes) -> bytes:
    """As large as the good picture, of metal and rust."""
    wide, high = _opened(data).size
    cells = np.random.default_rng(2).normal(120, 18, (high // 6, wide // 6, 3)).clip(0, 255).astype(np.uint8)
    return _saved(Image.fromarray(cells).resize((wide, high), Image.Resampling.BICUBIC), quality=92)


def _turned(data: bytes) -> bytes:
    """Lying on its side, with the word that says so: orientation 6 (JEITA CP-3451, 4.6.4 A; from memory)."""
    exif = Image.Exif()
    exif[0x0112] = 6
    return _saved(_opened(data).transpose(Image.Transpose.ROTATE_90), "PNG", exif=exif)


def _mirrored(data: bytes) -> bytes:
    return _saved(_opened(data).transpose(Image.Transpose.FLIP_LEFT_RIGHT), quality=93)


CASES = (
    Case("good", lambda data: data, "It can be wrong by"),
    Case("turned by its EXIF", _turned, "It can be wrong by", "png"),
    Case("text", lambda data: b"a letter, not a picture\n" * 900, "is not a picture that can be read"),
    Case("empty", lambda data: b"", "is not a picture that can be read"),
    # ISO 23008-12: what some telephones keep pictures as; a box 'ftyp' of brand 'heic' (from memory).
    Case("HEIC", lambda data: b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + data[:50_000],
         "is not a picture that can be read", "heic"),
    Case("a workbook", lambda data: b"PK\x03\x04" + data[:4_000], "is not a picture that can be read"),
    Case("cut off", lambda data: data[: len(data) // 2], "is damaged or cut off"),
    Case("its head alone", lambda data: data[:300], "damaged or cut off"),
    Case("100 megapixels, PNG", lambda data: _huge("PNG"), "has 100 megapixels", "png"),
    Case("100 megapixels, JPEG", lambda data: _huge("JPEG"), "has 100 megapixels"),
    Case("more than 64 MB", lambda data: data + bytes(65 * 1024**2), "is larger than 64 MB"),
    Case("no marks", _without_marks, "No reference mark is seen"),
    Case("mirrored", _mirrored, "The picture is mirrored"),
    Case("printed at another scale", lambda data: data, "printed at 104", longer=1.04),
    Case("another sheet's row", lambda data: data, "its row says", longer=1.6),
    Case("not there", None, "cannot be read"),
)  # fmt: skip


def good_picture(megapixels: float) -> bytes:
    """One picture of the sheet, drawn, nothing harsh in it."""
    size = (SIZE[0] * INCH, SIZE[1] * INCH)
    scene = make_scene(4, megapixels=megapixels, size=size, pictures=1, cut_outs=3, harsh=False)
    [(_, data)] = photographed(scene)
    return data


def handed_over(case: Case, good: bytes, folder: Path) -> tuple[Ran, str]:
    """Run the real command on a case in an empty folder; how it ended, and what is wrong with that."""
    folder.mkdir()
    row = {"Tag": TAG, "Material": "mild steel", "Thickness": "10 ga", "Width": SIZE[1] * case.longer,
           "Length": SIZE[0] * case.longer, "Value": 1, "Rack place": "R1"}  # fmt: skip
    book = planned_book(folder, remnants=[row], plan_it=False)
    picture = folder / f"picture.{case.ending}"
    if case.make is not None:
        picture.write_bytes(case.make(good))
    before = book.read_bytes()
    ran = run("rack", "picture", book.name, TAG, picture.name, folder=folder)
    faults = [ran.ugly] if ran.ugly else []
    if case.says not in " ".join(ran.said.split()):
        faults.append(f"it does not say '{case.says}': {ran.said[-500:]}")
    if book.read_bytes() != before or list((folder / "rack").glob(f"{TAG}*")):
        faults.append("book or rack were changed")
    if ran.worked > SECONDS or ran.megabytes > MEGABYTES:
        faults.append("it took more than is promised")
    return ran, "; ".join(faults)


def main() -> None:
    """As the head says."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--megapixels", type=float, default=12.0)
    asked = parser.parse_args()
    good = good_picture(asked.megapixels)
    print(f"the good picture: {asked.megapixels:g} megapixels, {len(good) / 1e6:.1f} MB")
    with tempfile.TemporaryDirectory() as folder:
        for number, case in enumerate(CASES):
            ran, fault = handed_over(case, good, Path(folder) / str(number))
            print(
                f"{case.name}: {ran.worked:.1f} s of processor, {ran.seconds:.1f} s in all, "
                f"{ran.megabytes:.0f} MB, exit {ran.code}: {fault or 'as promised'}",
                flush=True,
            )
            print("    " + " ".join(ran.said.split())[:200])


if __name__ == "__main__":
    main()
