"""Books in awkward places: spaces, accents, long names, signs that shells and links care about; and a program
in one: where nobody may write, run by somebody who has no home.
"""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.hard.command import ROOT, run
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


NOBODY = 65534
"""User without a home, and group; as Linux distributions number them."""

A_KERNEL = """
import sys
from sheetplan.app.making.workers import place_for_kernels
if "place" in sys.argv:
    place_for_kernels(lambda progress: print(progress.sentence))
from sheetplan.packing.rng import chance_of, uniform
print(0.0 <= uniform(chance_of(1)) < 1.0)
"""
"""Compile a kernel as a plan does, with or without looking for a place to keep it."""


def installed_for_nobody(place: Path) -> list[str]:
    """The program in a folder without a right to write; how it is run by another user without a home."""
    installed = place / "installed"
    for name in ("sheetplan", "workbook_template"):
        shutil.copytree(ROOT / name, installed / name, ignore=shutil.ignore_patterns("__pycache__"))
    for path in (installed, *installed.rglob("*")):
        path.chmod(0o555 if path.is_dir() else 0o444)
    for name in ("work", "tmp"):
        (place / name).mkdir()
        os.chown(place / name, NOBODY, NOBODY)
    user, may = str(NOBODY), "+dac_read_search"  # the interpreter itself may lie where others cannot read
    return [
        "setpriv", "--reuid", user, "--regid", user, "--clear-groups", "--inh-caps", may, "--ambient-caps",
        may, "env", "-i", f"PATH={os.environ['PATH']}", f"TMPDIR={place / 'tmp'}", f"PYTHONPATH={installed}",
        sys.executable,
    ]  # fmt: skip


def root_may_become_another() -> bool:
    tried = ("setpriv", "--reuid", str(NOBODY), "--inh-caps", "+dac_read_search", "true")
    return shutil.which("setpriv") is not None and subprocess.run(tried, capture_output=True).returncode == 0


@pytest.mark.slow
@pytest.mark.skipif(not root_may_become_another(), reason="needs setpriv and a right to other users")
def test_a_program_where_nobody_may_write_for_a_user_without_a_home(tmp_path: Path) -> None:
    start = installed_for_nobody(tmp_path)

    def said(*arguments: str) -> tuple[int, str]:
        done = subprocess.run(
            [*start, *arguments], cwd=tmp_path / "work", capture_output=True, text=True, check=False
        )
        return done.returncode, done.stdout + done.stderr

    code, text = said("-c", A_KERNEL)
    assert (code, "no locator available" in text) == (1, True), "else the place would not be needed"
    assert said("-c", A_KERNEL, "place") == (
        0, "The program cannot keep its machine code: it is compiled for this run alone.\nTrue\n"
    )  # fmt: skip
    for arguments in (("new", "b.xlsx", "--demo"), ("check", "b.xlsx"), ("rack", "b.xlsx"),
                      ("show", "drawings/hinge_leaf.dxf", "--picture", "leaf.png")):  # fmt: skip
        code, text = said("-m", "sheetplan", *arguments)
        assert code == 0, text
        assert not re.search("Traceback|Warning|atplotlib|nonexistent", text), "no words of a library's"
    assert list((tmp_path / "tmp").iterdir()) == [], "nothing is left of what was kept for a run"
    assert not list((tmp_path / "installed").rglob("__pycache__"))
