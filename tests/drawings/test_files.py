import unicodedata
from pathlib import Path

import pytest

from sheetplan.drawings.reading.files import DrawingName, as_it_is_written, drawing_name, find_drawing
from sheetplan.drawings.reading.findings import Refused


@pytest.mark.parametrize(
    ("text", "want"),
    [
        ("bracket.dxf", DrawingName("bracket.dxf")),
        (" plates/bracket.dxf#2 ", DrawingName("plates/bracket.dxf", 2)),
        ("bracket #3.dxf", DrawingName("bracket #3.dxf")),
        ("bracket.dxf # 12", DrawingName("bracket.dxf", 12)),
        ("#4", DrawingName("#4")),
    ],
)
def test_names_with_numbers(text: str, want: DrawingName) -> None:
    assert drawing_name(text) == want


@pytest.fixture
def home(tmp_path: Path) -> Path:
    book = tmp_path / "jobs" / "may"
    (book / "plates").mkdir(parents=True)
    (book / "plates" / "Bracket.dxf").write_text("x")
    (tmp_path / "library").mkdir()
    (tmp_path / "library" / "cleat.svg").write_text("x")
    (tmp_path / "secret.dxf").write_text("x")
    return book


@pytest.mark.parametrize(
    "name", ["plates/Bracket.dxf", "plates\\Bracket.dxf", "./plates/../plates/Bracket.dxf"]
)
def test_below_the_book(home: Path, name: str) -> None:
    assert find_drawing(name, home) == (home / "plates" / "Bracket.dxf").resolve()


@pytest.mark.parametrize("folder", ["../../library", None])
def test_below_a_listed_folder(home: Path, folder: str | None) -> None:
    listed = Path(folder) if folder else home.parent.parent / "library"
    assert find_drawing("cleat.svg", home, [listed]).name == "cleat.svg"
    with pytest.raises(Refused, match="there is no cleat"):
        find_drawing("cleat.svg", home)


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("", "no drawing is named"),
        ("../../secret.dxf", "leads out of"),
        ("plates/../../../secret.dxf", "leads out of"),
        ("/etc/passwd.dxf", "full path"),
        ("~/x.dxf", "full path"),
        ("C:\\drawings\\x.dxf", "full path"),
        ("c:x.dxf", "full path"),
        ("\\\\server\\share\\x.dxf", "network path"),
        ("//server/share/x.dxf", "network path"),
        ("http://example.org/x.dxf", "web address"),
        ("plates/Bracket.dwg", "is a DWG, which is not read; save it as DXF"),
        ("plates/Bracket.pdf", "neither .dxf nor .svg"),
        ("plates", "neither"),
        ("x\0.dxf", "no name of a file"),
        ("x" * 2000 + ".dxf", "no name of a file"),
        ("plates/bracket.dxf", "Bracket.dxf, written differently"),
        ("plates/other.dxf", "there is no plates/other.dxf"),
    ],
)
def test_refused_with_the_reason(home: Path, name: str, reason: str) -> None:
    with pytest.raises(Refused, match=reason):
        find_drawing(name, home)


def test_a_link_that_leads_out(home: Path) -> None:
    (home / "link.dxf").symlink_to(home.parent.parent / "secret.dxf")
    with pytest.raises(Refused, match="leads out of"):
        find_drawing("link.dxf", home)


def test_a_folder_named_like_a_drawing(home: Path) -> None:
    (home / "folder.dxf").mkdir()
    with pytest.raises(Refused, match="is a folder; name a drawing in it"):
        find_drawing("folder.dxf", home)


@pytest.mark.parametrize("here", ["NFC", "NFD"])
def test_letters_composed_or_not_are_one_name(home: Path, here: str) -> None:
    """A Mac writes the dots of an umlaut as a letter of their own; a person sees no difference."""
    other = "NFD" if here == "NFC" else "NFC"
    folder = home / unicodedata.normalize(here, "größen")
    folder.mkdir()
    (folder / unicodedata.normalize(here, "größe.dxf")).write_text("x")
    found = find_drawing(unicodedata.normalize(other, "größen/größe.dxf"), home)
    assert unicodedata.normalize("NFC", found.name) == "größe.dxf"
    assert as_it_is_written(home / unicodedata.normalize(other, "größen/größe.dxf")) == found
    assert as_it_is_written(home / "größen/grösse.dxf") == home / "größen/grösse.dxf"
    with pytest.raises(Refused, match="nearest name is"):
        find_drawing("größen/grösse.dxf", home)
