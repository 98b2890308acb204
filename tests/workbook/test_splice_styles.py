import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.trade.units import Units
from sheetplan.workbook.package import styles as splice_styles
from sheetplan.workbook.package.parts import MAIN, Package, canonical, main, parse
from sheetplan.workbook.package.styles import TooManyFormats, merge_styles
from sheetplan.workbook.writing.page_writer import draw_pages
from tests.nasty.worst_book import worst_book
from tests.workbook.sample_pages import all_pages

OURS = draw_pages(all_pages(), Units.INCH).read("xl/styles.xml")
THEIRS = Package.of_bytes(worst_book()).read("xl/styles.xml")

SMALL = f"""<x:styleSheet xmlns:x="{MAIN}"><x:fonts count="1"><x:font><x:sz val="11"/></x:font></x:fonts>
<x:fills count="1"><x:fill><x:patternFill patternType="none"/></x:fill></x:fills>
<x:borders count="1"><x:border/></x:borders>
<x:cellXfs count="1"><x:xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></x:cellXfs></x:styleSheet>"""


@pytest.mark.parametrize("theirs", [THEIRS, SMALL.encode()])
def test_what_is_there_stays_and_keeps_its_number(theirs: bytes) -> None:
    before, after = parse(theirs), parse(theirs)
    merge_styles(after, parse(OURS))
    for old in before:
        new = after.find(old.tag)
        assert new is not None
        assert [canonical(e) for e in new][: len(old)] == [canonical(e) for e in old]


def test_our_formats_look_the_same_under_their_new_numbers() -> None:
    theirs, ours = parse(THEIRS), parse(OURS)
    styles = merge_styles(theirs, ours)

    def look(root: object, number: int) -> dict[str, object]:
        xf = root.find(main("cellXfs"))[number]
        codes = {e.get("numFmtId"): e.get("formatCode") for e in root.iter(main("numFmt"))}
        parts = {
            tag: canonical(root.find(main(tag))[int(xf.get(attribute))])
            for tag, attribute in (("fonts", "fontId"), ("fills", "fillId"), ("borders", "borderId"))
        }
        code = codes.get(xf.get("numFmtId"), xf.get("numFmtId"))
        return {**parts, "code": code, "quote": xf.get("quotePrefix"), "inside": [canonical(c) for c in xf]}

    assert len(styles.cells) == len(ours.find(main("cellXfs")))
    for number, place in enumerate(styles.cells):
        if number:
            assert look(theirs, place) == look(ours, number)
    assert styles.cells[0] == 0


def test_a_second_merge_adds_nothing() -> None:
    root = parse(THEIRS)
    first = merge_styles(root, parse(OURS))
    once = canonical(root)
    assert merge_styles(root, parse(OURS)) == first
    assert canonical(root) == once


def test_fonts_are_recognised_after_another_program_has_saved_them() -> None:
    root = parse(THEIRS)
    merge_styles(root, parse(OURS))
    count = len(root.find(main("fonts")))
    for font in root.find(main("fonts")):
        for hint in ("family", "charset", "scheme"):
            for element in font.findall(main(hint)):
                font.remove(element)
        font.append(font[0])  # the order of a font's elements says nothing
    merge_styles(root, parse(OURS))
    assert len(root.find(main("fonts"))) == count


def test_counts_are_true_and_lists_stand_in_the_order_of_the_schema() -> None:
    root = parse(SMALL.encode())
    merge_styles(root, parse(OURS))
    for entries in root:
        assert entries.get("count") == str(len(entries))
    tags = [e.tag.rpartition("}")[2] for e in root]
    assert tags == sorted(tags, key=splice_styles._ORDER.index)


@given(st.lists(st.integers(1, 400), max_size=6, unique=True))
def test_number_formats_never_take_a_number_that_is_in_use(numbers: list[int]) -> None:
    entries = "".join(f'<numFmt numFmtId="{n}" formatCode="code {n}"/>' for n in numbers)
    root = parse(
        SMALL.replace("x:", "")
        .replace(":x=", "=")
        .replace("<fonts", f"<numFmts>{entries}</numFmts><fonts", 1)
        .encode()
    )
    merge_styles(root, parse(OURS))
    codes = [(e.get("numFmtId"), e.get("formatCode")) for e in root.iter(main("numFmt"))]
    assert len({number for number, _ in codes}) == len(codes)
    assert {("0", "x"), *codes} > {(str(n), f"code {n}") for n in numbers}
    assert all(int(number) >= 164 for number, code in codes if not code.startswith("code "))


def test_differential_formats_are_appended_too() -> None:
    theirs = parse(THEIRS)
    before = 0 if theirs.find(main("dxfs")) is None else len(theirs.find(main("dxfs")))
    ours = parse(OURS.replace(b'<dxfs count="0"/>', b'<dxfs count="1"><dxf><font><b/></font></dxf></dxfs>'))
    assert merge_styles(theirs, ours).differential == (before,)


def test_a_full_book_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(splice_styles, "MOST_FORMATS", 3)
    with pytest.raises(TooManyFormats):
        merge_styles(parse(THEIRS), parse(OURS))
