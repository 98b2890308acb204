"""No network at run time, and files written only where it is said that they are.

Nothing uses the network, but for `plan --scheduler` with the address given. Written are: the workbook and
files beside it that bear its name (backup, results book, outlines, contact sheet, a month's archive), the
output folder, what `--json` names, the rack's folder, and caches of drawings, compiled code and fonts
(`__pycache__`, `~/.cache`, `~/.config/matplotlib`). A fault of ours leaves a report in the folder for
temporary files.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.hard.command import ROOT, run
from tests.hard.looking import snapshot
from tests.nasty.books.plain import plain_rows, write_book

HERE = Path(__file__).parent / "watched"


def watched(*arguments: str, folder: Path, place: Path) -> tuple[int, str, list[tuple[str, str]]]:
    """Run a command in a machine of its own folders: the exit code, what was said, what was done."""
    more = {"PYTHONPATH": f"{HERE}:{ROOT}", "WATCHED": str(place / "watched.txt")}
    for name in ("HOME", "TMPDIR"):
        (place / name).mkdir(exist_ok=True)
        more[name] = str(place / name)
    (place / "watched.txt").write_text("")
    ran = run(*arguments, folder=folder, more=more)
    done = [tuple(line.split("\t", 1)) for line in (place / "watched.txt").read_text().splitlines()]
    return ran.code, ran.said, [(kind, what) for kind, what in done]


@pytest.mark.slow
def test_nothing_leaves_the_machine_and_files_are_written_only_where_stated(tmp_path: Path) -> None:
    """As README and the head of this file say: beside the book, in the output folder, and caches."""
    folder = tmp_path / "work"
    folder.mkdir()
    write_book(folder / "d.xlsx", plain_rows())
    strange = {}
    for arguments in (
        ("new", "b.xlsx"),
        ("check", "d.xlsx", "--json", "check.json"),
        ("plan", "d.xlsx", "--seconds", "1", "--workers", "2"),
    ):
        before = snapshot(folder)
        code, said, done = watched(*arguments, folder=folder, place=tmp_path)
        assert code in (0, 1), said
        assert not [what for kind, what in done if kind == "network"]
        places = (f"{folder}/", f"{folder.parent}/TMPDIR", f"{folder.parent}/HOME/.c", "/dev/")
        strange[arguments[0]] = [
            (kind, what) for kind, what in done
            if not what.startswith(places) and "__pycache__" not in what and what != str(folder)
            and kind != "subprocess.Popen"
        ]  # fmt: skip
        if arguments[0] == "check":
            new = snapshot(folder).keys() - before.keys()
            assert new <= {"check.json"}, "check writes nothing but what it is asked for"
            assert snapshot(folder).items() >= before.items()
    assert strange == {"new": [], "check": [], "plan": []}
    assert {path.split("/")[0] for path in snapshot(folder)} == {
        "b.xlsx", "d.xlsx", ".d.backup.json", "d.backup.xlsx", "check.json", "layouts"
    }  # fmt: skip
    assert snapshot(tmp_path / "TMPDIR") == {}
