"""A remnant from a picture: shown first, taken in by its code, planned on where there is metal."""

from __future__ import annotations

from pathlib import Path

import pytest
import shapely

pytest.importorskip("cv2", reason="OpenCV is not installed: pip install 'sheetplan[picture]'")

from sheetplan.app.check import check_book
from sheetplan.app.plan import PlanAsked, plan_book
from sheetplan.app.rack import Refused
from sheetplan.app.rack.picture import PictureAsked, Pictured, add_pictures
from sheetplan.model import Remnant
from sheetplan.planning.progress import quiet
from sheetplan.shapes import place, to_polygon
from sheetplan.workbook.outcomes import BookError
from tests.app.cut_book import DAY, copied, planned_book
from tests.hard.pictures import photographed
from tests.pictures.scenes import Scene, make_scene

INCH = 25.4
SIZE = (36.0, 26.0)
ROW = {"Tag": "R-030", "Material": "mild steel", "Thickness": "10 ga", "Width": SIZE[1], "Length": SIZE[0],
       "Value": 1, "Rack place": "R1"}  # fmt: skip


@pytest.fixture(scope="module")
def scene() -> Scene:
    return make_scene(
        4, megapixels=2, size=(SIZE[0] * INCH, SIZE[1] * INCH), pictures=1, cut_outs=3, harsh=False
    )


@pytest.fixture(scope="module")
def shop(scene: Scene, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, PictureAsked]:
    """A book with nothing else to cut from but sheets that cost, and the picture beside it."""
    folder = tmp_path_factory.mktemp("picture")
    path = planned_book(folder, plates=2, on_hand=0, least=6, remnants=[ROW], plan_it=False)
    [(name, data)] = photographed(scene)
    (folder / name).write_bytes(data)
    return path, PictureAsked((folder / name,))


@pytest.fixture(scope="module")
def shown(shop: tuple[Path, PictureAsked]) -> Pictured:
    return add_pictures(shop[0], "R-030", shop[1])


def test_a_reading_is_shown_and_nothing_is_recorded(shop: tuple[Path, PictureAsked], shown: Pictured) -> None:
    book, _ = shop
    assert not shown.taken
    assert [path.suffix for path in shown.written] == [".png", ".pdf"]
    assert all(path.stat().st_size > 10_000 for path in shown.written)
    assert any("It can be wrong by" in said and " in: " in said for said in shown.sentences)
    assert f"--confirm {shown.code}" in shown.sentences[-1]
    assert not list((book.parent / "rack").glob("R-030*"))


def test_no_more_than_twelve_pictures_and_none_that_is_too_large(tmp_path: Path) -> None:
    """Refused before the book is looked at, which is not there."""
    files = [tmp_path / f"{number}.jpg" for number in range(13)]
    for path in files:
        path.write_bytes(b"no picture")
    with pytest.raises(Refused, match="At most 12 pictures are read together"):
        add_pictures(tmp_path / "b.xlsx", "R-030", PictureAsked(tuple(files)))
    with pytest.raises(BookError):
        add_pictures(tmp_path / "b.xlsx", "R-030", PictureAsked(tuple(files[:12])))
    with files[0].open("r+b") as large:
        large.truncate(64 * 1024**2 + 1)
    with pytest.raises(Refused, match=r"0\.jpg is larger than 64 MB"):
        add_pictures(tmp_path / "b.xlsx", "R-030", PictureAsked(tuple(files[:1])))
    with files[0].open("r+b") as large:
        large.truncate(64 * 1024**2)
    with pytest.raises(BookError):
        add_pictures(tmp_path / "b.xlsx", "R-030", PictureAsked(tuple(files[:1])))
    with pytest.raises(Refused, match="cannot be read"):
        add_pictures(tmp_path / "b.xlsx", "R-030", PictureAsked((tmp_path / "none.jpg",)))


def test_another_code_takes_nothing_in(shop: tuple[Path, PictureAsked], tmp_path: Path) -> None:
    path = copied(shop[0], tmp_path)
    before = path.read_bytes()
    with pytest.raises(Refused, match="is not the code of this reading"):
        add_pictures(path, "R-030", PictureAsked(shop[1].pictures, confirm="ABCDEF"))
    assert path.read_bytes() == before


def test_what_is_confirmed_is_planned_on_and_lies_on_metal(
    shop: tuple[Path, PictureAsked], shown: Pictured, scene: Scene, tmp_path: Path
) -> None:
    path = copied(shop[0], tmp_path)
    done = add_pictures(path, "R-030", PictureAsked(shop[1].pictures, confirm=shown.code))
    assert done.taken
    assert [p for p in check_book(path).problems if p.page in ("Remnants", "Remnant shapes")] == []
    plan = plan_book(
        path, PlanAsked(DAY, seconds=3.0, seed=1), stop=lambda: False, report=quiet, workers=1
    ).plan
    assert plan is not None
    [layout] = [one for group in plan.groups for one in group.layouts if isinstance(one.sheet, Remnant)]
    assert layout.placements
    for placement in layout.placements:
        part = to_polygon(place(plan.job.parts[placement.part].outline, placement), 0.01)
        assert part.within(scene.truth)
        assert part.distance(shapely.boundary(scene.truth)) > 0.0
