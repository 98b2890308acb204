import pytest

from sheetplan.workbook.package.parts import (
    TYPES_PART,
    ContentTypes,
    Package,
    new_relation,
    parse,
    part_at,
    reachable,
    relation_elements,
    relations_of,
    relations_part,
)

RELATIONS = "http://schemas.openxmlformats.org/package/2006/relationships"
TYPES = "http://schemas.openxmlformats.org/package/2006/content-types"


def relations(*targets: str) -> bytes:
    rows = "".join(
        f'<p:Relationship Id="rId{i}" Type="x/y/kind{i}" Target="{t}"'
        + (' TargetMode="External"/>' if "://" in t else "/>")
        for i, t in enumerate(targets, start=1)
    )
    return f'<p:Relationships xmlns:p="{RELATIONS}">{rows}</p:Relationships>'.encode()


def package_of(**parts: bytes) -> Package:
    package = Package()
    for name, data in parts.items():
        package.put(name, data)
    return package


@pytest.mark.parametrize(
    ("source", "target", "part"),
    [
        ("xl/workbook.xml", "worksheets/Sheet1.xml", "xl/worksheets/sheet1.xml"),
        ("xl/workbook.xml", "/xl/worksheets/sheet1.xml", "xl/worksheets/sheet1.xml"),
        ("xl/worksheets/sheet1.xml", "../tables/my%20table.xml", "xl/tables/my table.xml"),
        ("xl/worksheets/sheet1.xml", "../none.xml#top", "xl/none.xml"),
        ("", "xl/workbook.xml", "xl/workbook.xml"),
    ],
)
def test_targets_are_resolved_to_the_packages_spelling(source: str, target: str, part: str) -> None:
    package = package_of(
        **{"xl/worksheets/sheet1.xml": b"", "xl/tables/my table.xml": b"", "xl/workbook.xml": b""}
    )
    assert part_at(package, source, target) == part


def test_relations_with_any_prefix_and_links_out_left_aside() -> None:
    package = package_of(**{"xl/_rels/workbook.xml.rels": relations("a.xml", "https://x.example/", "b.xml")})
    found = relations_of(package, "xl/workbook.xml")
    assert [(r.id, r.part) for r in found] == [("rId1", "xl/a.xml"), ("rId3", "xl/b.xml")]
    assert found[0].is_a("kind1")
    assert not found[0].is_a("kind")
    assert relations_of(package, "xl/a.xml") == ()
    assert relations_part("a.xml") == "_rels/a.xml.rels"


def test_what_can_be_reached_and_what_only_through_a_part() -> None:
    package = package_of(
        **{
            "_rels/.rels": relations("book.xml"),
            "_rels/book.xml.rels": relations("ours.xml", "theirs.xml"),
            "_rels/ours.xml.rels": relations("table.xml", "shared.png"),
            "_rels/theirs.xml.rels": relations("shared.png", "book.xml"),
        }
    )
    assert reachable(package, ("ours.xml",)) == {"ours.xml", "table.xml", "shared.png"}
    kept = reachable(package, ("",), without=["ours.xml"])
    assert reachable(package, ("ours.xml",)) - kept == {"ours.xml", "table.xml"}


def test_a_new_relation_has_an_id_that_nobody_has() -> None:
    root = parse(relations("a.xml", "b.xml"))
    relation_elements(root)[0].set("Id", "RID3")
    assert new_relation(root, "kind", "/c.xml") == "rId4"
    assert len(relation_elements(root)) == 3


def test_types_by_entry_by_default_and_in_any_case() -> None:
    package = package_of(
        **{
            TYPES_PART: (
                f'<c:Types xmlns:c="{TYPES}"><c:Default Extension="PNG" ContentType="image/png"/>'
                '<c:Override PartName="/xl/Tables/T%201.xml" ContentType="table"/></c:Types>'
            ).encode()
        }
    )
    types = ContentTypes(package)
    assert types.of("xl/tables/t 1.xml") == "table"
    assert types.of("xl/media/a.png") == "image/png"
    assert types.of("xl/a.xml") is None
    types.set("xl/media/b.png", "image/png")
    assert len(types.root) == 2
    types.set("xl/media/c.png", "image/x-png")
    assert types.of("xl/media/c.png") == "image/x-png"
    types.forget("xl/tables/T 1.xml")
    assert types.of("xl/tables/t 1.xml") is None
