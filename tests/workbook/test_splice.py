import datetime
import io
import zipfile

import openpyxl
import pytest
from lxml import etree

from sheetplan.trade.units import Units
from sheetplan.workbook.package.parts import MAIN, Package, main, parse
from sheetplan.workbook.package.splice import MayNotAlter, splice_pages
from sheetplan.workbook.writing.grid import NAMED_COLUMNS, PROBLEM_KEYS
from sheetplan.workbook.writing.page_writer import draw_pages
from tests.nasty.worst_book import OWN_PAGES, worst_book
from tests.workbook.books import book_of, changed, parts_of, plain_book, prefixed, read, sheet_part
from tests.workbook.sample_pages import all_pages, layouts_page, plan_page, problems_page

DRAWN = draw_pages(all_pages(), Units.INCH, names=NAMED_COLUMNS)
OTHER = draw_pages((plan_page("Next plan", 3), problems_page()), Units.INCH, names=NAMED_COLUMNS)
pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
SHARED = {
    "xl/workbook.xml",
    "xl/_rels/workbook.xml.rels",
    "[Content_Types].xml",
    "xl/styles.xml",
    "xl/calcChain.xml",
}


def drawn() -> Package:
    return Package.of_bytes(DRAWN.to_bytes())


def spliced(data: bytes) -> bytes:
    return splice_pages(data, drawn())


@pytest.mark.parametrize("macros", [False, True])
def test_every_part_that_is_not_ours_keeps_its_bytes(macros: bool) -> None:
    book = worst_book(macros=macros)
    before, after = parts_of(book), parts_of(spliced(book))
    assert len(before) > 60
    assert {n for n in before if after.get(n) != before[n]} == SHARED
    assert all("sheetplan_" in n for n in after.keys() - before.keys())
    assert "xl/calcChain.xml" not in after
    assert list(after)[: len(before) - 1] == [n for n in before if n != "xl/calcChain.xml"]


def test_entries_that_stay_keep_their_dates_too() -> None:
    book = worst_book()
    with zipfile.ZipFile(io.BytesIO(book)) as old, zipfile.ZipFile(io.BytesIO(spliced(book))) as new:
        for name in set(old.namelist()) - SHARED:
            assert new.getinfo(name).date_time == old.getinfo(name).date_time


def test_the_second_splice_is_the_first_again() -> None:
    once = spliced(worst_book())
    assert spliced(once) == once


def test_going_to_other_pages_and_back_grows_nothing() -> None:
    once = spliced(worst_book())
    there = splice_pages(once, OTHER)
    back = spliced(there)
    # The other pages may need formats that these did not; once they are there, nothing is added.
    assert spliced(splice_pages(back, OTHER)) == back
    assert {n for n, d in parts_of(back).items() if parts_of(once).get(n) != d} <= {"xl/styles.xml"}
    assert len(there) < len(once)


def test_a_page_that_is_not_drawn_again_stays_as_it_was() -> None:
    once = spliced(worst_book())
    later = splice_pages(once, OTHER)
    part = sheet_part(once, "Layouts")
    assert parts_of(later)[part] == parts_of(once)[part]
    assert len(read(later)["Layouts"]._images) == 6
    assert read(later)["Plan"]["A1"].value == "Next plan"


def test_sheets_keep_name_number_and_place() -> None:
    book = worst_book()
    once, twice = spliced(book), splice_pages(spliced(book), OTHER)

    def sheets(data: bytes) -> list[tuple[str | None, ...]]:
        root = parse(parts_of(data)["xl/workbook.xml"])
        return [(e.get("name"), e.get("sheetId"), e.get("state")) for e in root.iter(main("sheet"))]

    assert sheets(once)[: len(sheets(book))] == sheets(book)
    assert sheets(once) == sheets(twice)
    assert [name for name, _, _ in sheets(once)[-4:]] == ["Plan", "Layouts", "Made", "Problems"]


def test_a_page_between_the_planners_is_replaced_where_it_stands() -> None:
    book = worst_book()
    once = splice_pages(plain_book("First"), drawn())
    parts = parts_of(once)
    # The planner moves our page to the front; its local names count sheets from the front.
    root = parts["xl/workbook.xml"].decode()
    first, plan = (
        '<sheet name="First" sheetId="1" r:id="rId1"/>',
        '<sheet name="Plan" sheetId="2" r:id="rId5"/>',
    )
    assert first + plan in root
    root = root.replace(first + plan, plan + first).replace('localSheetId="1"', 'localSheetId="0"')
    moved = book_of(parts | {"xl/workbook.xml": root.encode()})
    again = splice_pages(moved, OTHER)
    assert read(again).sheetnames[:2] == ["Plan", "First"]
    assert read(again)["Plan"]["A1"].value == "Next plan"
    assert read(again)["Plan"].print_title_rows == "$6:$6"
    assert read(again)["First"].print_title_rows is None
    assert book


def test_formulas_and_charts_of_the_planner_still_point_at_our_page() -> None:
    once = read(spliced(worst_book()))
    assert once[OWN_PAGES[2]]["C1"].value == '=IFERROR(Plan!A1,"no plan yet")'
    assert once["Plan"]["A1"].value == "Plan of the month"


def test_another_reader_finds_all_that_was_drawn() -> None:
    book = read(spliced(worst_book()))
    assert book["Plan"].tables["PlanSheets"].ref.startswith("A6:J")
    assert book["Plan"]["B7"].value == 1
    assert book["Plan"]["C7"].number_format == "#,##0.000"
    assert book["Plan"]["A6"].fill.fgColor.rgb == "FFD7E5E2"
    assert book["Made"]["A6"].value == "-2042"
    assert book["Made"]["A6"].quotePrefix
    assert book["Layouts"].page_setup.orientation == "landscape"
    assert book.defined_names[PROBLEM_KEYS].attr_text == "Problems!$A$4:$A$4"
    assert book.defined_names["Gauge_choices"].attr_text == "'Old figures'!$A$1:$A$5"
    assert "local_name" in book[OWN_PAGES[0]].defined_names
    assert book["Parts"].print_area == "'Parts'!$A$1:$T$40"


def test_tables_get_numbers_and_names_that_nobody_has_and_keep_them() -> None:
    once, twice = spliced(worst_book()), splice_pages(spliced(worst_book()), OTHER)
    for data in (once, twice):
        tables = [parse(d) for n, d in parts_of(data).items() if n.startswith("xl/tables/")]
        assert len({t.get("id") for t in tables}) == len(tables)
        assert len({t.get("displayName").lower() for t in tables}) == len(tables)
    number = {
        t.get("displayName"): t.get("id")
        for n, d in parts_of(once).items()
        if "tables/" in n
        for t in [parse(d)]
    }
    later = {
        t.get("displayName"): t.get("id")
        for n, d in parts_of(twice).items()
        if "tables/" in n
        for t in [parse(d)]
    }
    assert later["PlanSheets"] == number["PlanSheets"]
    assert later["ProblemList"] == number["ProblemList"]


def test_a_table_name_that_the_planner_uses_is_given_way_to() -> None:
    memory = io.BytesIO()
    book = openpyxl.Workbook()
    book.active.append(["a"])
    book.active.append([1])
    book.active.add_table(openpyxl.worksheet.table.Table(displayName="plansheets", ref="A1:A2"))
    book.defined_names["MadeOrders"] = openpyxl.workbook.defined_name.DefinedName(
        "MadeOrders", attr_text="Sheet!$A$1"
    )
    book.save(memory)
    result = read(spliced(memory.getvalue()))
    assert list(result["Plan"].tables) == ["PlanSheets_2"]
    assert "MadeOrders_2" in result["Made"].tables
    assert spliced(spliced(memory.getvalue())) == spliced(memory.getvalue())


def test_no_second_sheet_is_selected() -> None:
    data = spliced(worst_book())
    selected = [n for n, d in parts_of(data).items() if "worksheets/" in n and b"tabSelected" in d]
    assert len(selected) == 1
    assert "sheetplan_" not in selected[0]


def test_strings_stand_in_the_cells_and_the_planners_list_is_untouched() -> None:
    data = spliced(worst_book())
    ours = [d for n, d in parts_of(data).items() if "worksheets/sheetplan_" in n and n.endswith(".xml")]
    assert len(ours) == 4
    assert all(b't="s"' not in d and b't="inlineStr"' in d for d in ours)


def test_everything_is_calculated_anew_on_opening() -> None:
    for data in (
        worst_book(),
        plain_book(),
        changed(plain_book(), "xl/workbook.xml", b"<calcPr", b"<!-- --><calcPr"),
    ):
        settings = parse(parts_of(spliced(data))["xl/workbook.xml"]).find(main("calcPr"))
        assert settings is not None
        assert settings.get("fullCalcOnLoad") == "1"
    parts = parts_of(plain_book())
    parts["xl/workbook.xml"] = parts["xl/workbook.xml"].replace(
        b'<calcPr calcId="124519" fullCalcOnLoad="1"/>', b""
    )
    root = parse(parts_of(spliced(book_of(parts)))["xl/workbook.xml"])
    tags = [e.tag.rpartition("}")[2] for e in root]
    assert tags.index("sheets") < tags.index("definedNames") < tags.index("calcPr")


def test_books_that_count_days_from_1904_still_do() -> None:
    book = openpyxl.load_workbook(io.BytesIO(plain_book(date_1904=True)))
    assert book.epoch.year == 1904
    after = read(spliced(plain_book(date_1904=True)))
    assert after.epoch == datetime.datetime(1904, 1, 1)


def test_other_prefixes_absolute_targets_and_other_cases_are_understood() -> None:
    parts = parts_of(plain_book("Mine", "Plan"))
    parts["xl/worksheets/sheet2.xml"] = f'<x:worksheet xmlns:x="{MAIN}"><x:sheetData/></x:worksheet>'.encode()
    for name in ("xl/workbook.xml", "xl/styles.xml", "xl/_rels/workbook.xml.rels", "[Content_Types].xml"):
        parts[name] = prefixed(parts[name])
    relations = parts["xl/_rels/workbook.xml.rels"]
    parts["xl/_rels/workbook.xml.rels"] = relations.replace(b'"worksheets/sheet', b'"/XL/Worksheets/Sheet')
    parts["_rels/.rels"] = parts["_rels/.rels"].replace(b'"xl/workbook.xml"', b'"/xl/workbook.xml"')
    parts["[Content_Types].xml"] = parts["[Content_Types].xml"].replace(
        b"<x:Override", b'<x:Default Extension="Png" ContentType="image/png"/><x:Override', 1
    )
    book = book_of(parts)
    once = spliced(book)
    after = parts_of(once)
    assert after["xl/worksheets/sheet2.xml"] != parts["xl/worksheets/sheet2.xml"]
    assert after["xl/worksheets/sheet1.xml"] == parts["xl/worksheets/sheet1.xml"]
    assert after["[Content_Types].xml"].lower().count(b'extension="png"') == 1
    root = parse(after["xl/workbook.xml"])
    assert [e.get("name") for e in root.iter(main("sheet"))] == [
        "Mine",
        "Plan",
        "Layouts",
        "Made",
        "Problems",
    ]
    assert spliced(once) == once


def test_a_book_without_styles_gets_ours() -> None:
    parts = parts_of(plain_book())
    del parts["xl/styles.xml"]
    for name in ("xl/_rels/workbook.xml.rels", "[Content_Types].xml"):
        root = parse(parts[name])
        for element in list(root):
            if "styles" in (element.get("Target") or element.get("PartName") or ""):
                root.remove(element)
        parts[name] = etree.tostring(root)
    once = spliced(book_of(parts))
    assert read(once)["Plan"]["C7"].number_format == "#,##0.000"
    assert spliced(once) == once


def test_pictures_that_the_planner_uses_too_stay_when_our_page_lets_go() -> None:
    once = spliced(worst_book())
    parts = parts_of(once)
    media = next(n for n in parts if "media/sheetplan_" in n)
    relations = "xl/drawings/_rels/drawing1.xml.rels"
    picture = b"http://schemas.openxmlformats.org/officeDocument/2006/relationships/image"
    parts[relations] = parts[relations].replace(
        b"</Relationships>",
        b'<Relationship Id="rIdX" Type="'
        + picture
        + b'" Target="/'
        + media.encode()
        + b'"/></Relationships>',
    )
    later = splice_pages(book_of(parts), draw_pages((layouts_page(1, (1, 2, 3)),), Units.INCH))
    assert parts_of(later)[media] == parts[media]
    assert len(read(later)["Layouts"]._images) == 1


@pytest.mark.parametrize(
    ("part", "old", "new", "words"),
    [
        ("xl/workbook.xml", b"<bookViews>", b'<workbookProtection lockStructure="1"/><bookViews>', "locked"),
        (
            "xl/workbook.xml",
            b"<workbookPr",
            b'<fileSharing reservationPassword="CC3D"/><workbookPr',
            "password",
        ),
        (
            "_rels/.rels",
            b"</Relationships>",
            b'<Relationship Id="rIdS" Type="http://schemas.openxmlformats.org/package/'
            b'2006/relationships/digital-signature/origin" Target="_xmlsignatures/o.sigs"/></Relationships>',
            "signed",
        ),
        ("xl/workbook.xml", MAIN.encode(), b"http://purl.oclc.org/ooxml/spreadsheetml/main", "Strict"),
    ],
)
def test_locked_signed_and_strict_books_are_refused(part: str, old: bytes, new: bytes, words: str) -> None:
    with pytest.raises(MayNotAlter, match=words):
        spliced(changed(worst_book(), part, old, new))


def test_protection_that_locks_nothing_is_no_reason() -> None:
    book = changed(
        worst_book(), "xl/workbook.xml", b"<bookViews>", b'<workbookProtection lockWindows="1"/><bookViews>'
    )
    assert read(spliced(book))["Plan"]["A1"].value == "Plan of the month"


def test_a_page_of_the_planners_that_bears_our_name_is_not_replaced() -> None:
    with pytest.raises(MayNotAlter, match="page Made is your own"):
        spliced(plain_book("Mine", "Made"))
    with pytest.raises(MayNotAlter, match="your own"):
        spliced(changed(plain_book("Mine", "Other"), "xl/workbook.xml", b'name="Other"', b'name="LAYOUTS"'))


def test_a_chart_sheet_that_bears_our_name_is_not_replaced() -> None:
    book = changed(worst_book(), "xl/workbook.xml", f'name="{OWN_PAGES[1]}"'.encode(), b'name="Plan"')
    with pytest.raises(MayNotAlter, match="page Plan is your own"):
        spliced(book)


def test_a_page_that_the_planner_renamed_is_left_alone() -> None:
    once = spliced(worst_book())
    kept = changed(once, "xl/workbook.xml", b'<sheet name="Plan"', b'<sheet name="Plan of May"')
    later = splice_pages(kept, OTHER)
    assert read(later)["Plan of May"]["A1"].value == "Plan of the month"
    assert read(later)["Plan"]["A1"].value == "Next plan"


def test_a_page_of_ours_that_was_protected_stays_so() -> None:
    once = spliced(plain_book())
    part = sheet_part(once, "Plan")
    lock = b'<sheetProtection sheet="1" objects="1" password="CC1A"/>'
    again = spliced(changed(once, part, b"</sheetData>", b"</sheetData>" + lock))
    protection = parse(parts_of(again)[part]).find(main("sheetProtection"))
    assert dict(protection.attrib) == {"sheet": "1", "objects": "1", "password": "CC1A"}
    assert protection.getprevious().tag == main("sheetData")
    assert spliced(again) == again
