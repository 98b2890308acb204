"""Books in awkward places: spaces, accents, long names, signs that shells and links care about."""

from pathlib import Path

import pytest

from tests.hard.command import run
from tests.hard.looking import link_faults, snapshot
from tests.nasty.books.plain import plain_rows, write_book

PLACES = ("Büro Ñandú/日本 100% #1 & 'x' [y];(z) e\u0301", "long")


@pytest.mark.slow
@pytest.mark.parametrize("place", PLACES)
def test_a_book_in_an_awkward_place(tmp_path: Path, place: str) -> None:
    """240 characters: what an old Windows program takes of a whole path, common practice, no source."""
    folder = tmp_path / place
    name = f"{place.split('/')[-1]} book.xlsx"
    if place == "long":
        folder = tmp_path / "a folder with a long name" / ("x" * 80)
        name = "n" * (240 - len(str(folder)) - 6) + ".xlsx"
        assert len(str(folder / name)) == 240
    folder.mkdir(parents=True)
    book = write_book(folder / name, plain_rows())
    assert run("check", name, folder=folder).code == 0
    # Given by its whole path from elsewhere.
    ran = run("plan", book, "--seconds", "0.2", "--workers", "1", folder=tmp_path)
    assert (ran.code, ran.ugly) == (0, ""), ran.said
    assert link_faults(book) == []
    assert {path.split("/")[0] for path in snapshot(folder)} == {
        name, f".{book.stem}.backup.json", f"{book.stem}.backup.xlsx", "layouts"
    }  # fmt: skip
