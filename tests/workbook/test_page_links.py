from urllib.parse import unquote

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.utils.cell import quote_sheetname

from sheetplan.workbook.text import quoted_page, target_of


@pytest.mark.parametrize(
    ("target", "spelled"),
    [
        ("#Parts!A1", "#Parts!A1"),
        ("#Parts!$D$7", "#Parts!$D$7"),
        ("#Cut log!B7:C9", "#'Cut log'!B7:C9"),
        ("#'Cut log'!B7", "#'Cut log'!B7"),
        ("#R1!A1", "#'R1'!A1"),
        ("#It's!A1", "#'It''s'!A1"),
        ("layouts/L1.dxf", "layouts/L1.dxf"),
        ("layouts\\L 1.dxf", "layouts/L%201.dxf"),
        ("../shared/L#1 50%.dxf", "../shared/L%231%2050%25.dxf"),
        ("zeichnung/ä.dxf", "zeichnung/%C3%A4.dxf"),
    ],
)
def test_good_targets_are_spelled_for_every_program(target: str, spelled: str) -> None:
    assert target_of(target) == spelled


@pytest.mark.parametrize(
    "target",
    [
        "",
        "#",
        "#Parts",
        "#!A1",
        "#Parts!",
        "#Parts!1A",
        "#Parts!A0",
        "https://example.org/",
        "javascript:alert(1)",
        "C:\\secret.txt",
        "/etc/passwd",
        "\\\\host\\share",
        "file:///etc/passwd",
        "mailto:a@example.org",
        "x" * 3000,
    ],
)
def test_other_targets_are_no_links(target: str) -> None:
    assert target_of(target) is None


@given(st.text("abc XYZ09'-.!_", min_size=1, max_size=12).filter(lambda n: n.strip("'") == n))
def test_a_page_with_any_name_is_found_again(name: str) -> None:
    target = target_of(f"#{name}!B2")
    assert target is not None
    page = target[1:].rpartition("!")[0]
    assert page in (name, quote_sheetname(name))
    if page == name:
        assert name.isidentifier()


@given(st.text("abc äß#%&?+ ()", min_size=1, max_size=20))
def test_a_path_is_decoded_to_itself(path: str) -> None:
    if path.startswith("#"):
        return
    target = target_of(path)
    assert target is not None
    assert unquote(target) == path
    assert target.isascii()
    assert " " not in target
    assert "#" not in target


def test_names_that_could_be_cells_are_quoted() -> None:
    assert [quoted_page(n) for n in ("Plan", "A1", "RC", "r2c3", "2nd")] == [
        "Plan",
        "'A1'",
        "'RC'",
        "'r2c3'",
        "'2nd'",
    ]
