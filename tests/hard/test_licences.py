"""Every package that comes along has a licence that a shop may use freely, and stands in LICENCES.md."""

from tests.hard.command import ROOT
from tests.hard.licences import table

FREE = (
    "MIT", "BSD", "Apache", "PSF", "Python Software Foundation", "HPND", "MPL", "Mozilla",
    "ISC", "Zlib", "LGPL",
)  # fmt: skip
"""Words of licences that let a shop use, pass on and change what they cover."""


def test_all_licences_are_free_and_listed() -> None:
    found = table()
    assert len(found) >= 14
    listed = (ROOT / "tests" / "hard" / "LICENCES.md").read_text(encoding="utf-8")
    for name, _version, said in found:
        assert any(word in said for word in FREE), f"{name}: {said}"
        assert f"| {name} |" in listed, (
            f"{name} is missing in tests/hard/LICENCES.md; run python -m tests.hard.licences"
        )
