"""Parts that spreadsheet programs write and XlsxWriter does not, put into a book by hand.

Threaded comments with their persons, a slicer on the planner's table, drop-downs that look at
another page (an extension), printer settings, a custom XML part, a list of calculation steps and
an odd part that nothing points at.
"""

from __future__ import annotations

import io
import zipfile

_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_MS10 = "http://schemas.microsoft.com/office/2007/relationships"
_PERSON = "{7B1D0C55-5C0B-4D0E-9A6B-0A6A5F1E0001}"

_OVERRIDES = {
    "/xl/persons/person.xml": "application/vnd.ms-excel.person+xml",
    "/xl/threadedComments/threadedComment1.xml": "application/vnd.ms-excel.threadedcomments+xml",
    "/xl/slicers/slicer1.xml": "application/vnd.ms-excel.slicer+xml",
    "/xl/slicerCaches/slicerCache1.xml": "application/vnd.ms-excel.slicerCache+xml",
    "/customXml/itemProps1.xml": "application/vnd.openxmlformats-officedocument.customXmlProperties+xml",
    "/xl/calcChain.xml": "application/vnd.openxmlformats-officedocument.spreadsheetml.calcChain+xml",
}

_PARTS = {
    "xl/persons/person.xml": '<personList xmlns="http://schemas.microsoft.com/office/spreadsheetml/2018/threadedcomments">'
    f'<person displayName="Foreman" id="{_PERSON}" userId="foreman" providerId="None"/></personList>',
    "xl/threadedComments/threadedComment1.xml": '<ThreadedComments xmlns="http://schemas.microsoft.com/office/spreadsheetml/2018/threadedcomments">'
    f'<threadedComment ref="A6" dT="2026-05-04T08:00:00.00" personId="{_PERSON}" '
    'id="{A0A0A0A0-0000-4000-8000-000000000001}"><text>Is this still the 2025 plate?</text>'
    "</threadedComment></ThreadedComments>",
    "xl/slicers/slicer1.xml": '<slicers xmlns="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main">'
    '<slicer name="Part" cache="Slicer_Part" caption="Part" rowHeight="241300"/></slicers>',
    "xl/slicerCaches/slicerCache1.xml": "<slicerCacheDefinition "
    'xmlns="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main" '
    'name="Slicer_Part" sourceName="Part"><extLst>'
    '<x:ext xmlns:x="http://schemas.openxmlformats.org/spreadsheetml/2006/main" '
    'uri="{2F2917AC-EB37-4324-AD4E-5DD8C200BD13}">'
    '<x15:tableSlicerCache xmlns:x15="http://schemas.microsoft.com/office/spreadsheetml/2010/11/main" '
    'tableId="4" column="1"/></x:ext></extLst></slicerCacheDefinition>',
    "xl/calcChain.xml": '<calcChain xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    '<c r="W3" i="4"/><c r="C2" i="9"/><c r="C1" i="11"/></calcChain>',
    "customXml/item1.xml": '<shop xmlns="urn:harbour-workshop">kept</shop>',
    "customXml/itemProps1.xml": "<ds:datastoreItem "
    'xmlns:ds="http://schemas.openxmlformats.org/officeDocument/2006/customXml" '
    'ds:itemID="{A0A0A0A0-0000-4000-8000-000000000002}"/>',
    "xl/unknown/left-over.dat": "a part that nothing points at",
}

_VALIDATION = (
    '<ext uri="{CCE6A557-97BC-4b89-ADB6-D9C93CAAB3DF}" '
    'xmlns:x14="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main">'
    '<x14:dataValidations xmlns:xm="http://schemas.microsoft.com/office/excel/2006/main" count="1">'
    '<x14:dataValidation type="list" allowBlank="1"><x14:formula1><xm:f>Materials!$A$6:$A$6</xm:f>'
    "</x14:formula1><xm:sqref>D6:D8</xm:sqref></x14:dataValidation></x14:dataValidations></ext>"
)

_SHEET_SLICER = (
    '<ext uri="{3A4CF648-6AED-40f4-86FF-DC5316D8AED3}" '
    'xmlns:x15="http://schemas.microsoft.com/office/spreadsheetml/2010/11/main">'
    '<x14:slicerList xmlns:x14="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main">'
    '<x14:slicer xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships" '
    'r:id="rIdSlicer"/></x14:slicerList></ext>'
)

_BOOK_SLICER = (
    '<extLst><ext uri="{46BE6895-7355-4a93-B00E-2C351335B9C9}" '
    'xmlns:x15="http://schemas.microsoft.com/office/spreadsheetml/2010/11/main">'
    '<x15:slicerCaches xmlns:x14="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main">'
    '<x14:slicerCache r:id="rIdSlicerCache"/></x15:slicerCaches></ext></extLst>'
)

_PARTS_SHEET = "xl/worksheets/sheet4.xml"
"""The page Parts: fourth of the input pages."""


def add_extra_parts(data: bytes) -> bytes:
    """Return the book with the parts above in it and everything that points at them."""
    with zipfile.ZipFile(io.BytesIO(data)) as file:
        parts = {info.filename: file.read(info) for info in file.infolist()}
    assert b"CB-100" in parts["xl/sharedStrings.xml"]
    parts |= {name: _xml(text) for name, text in _PARTS.items()}
    parts["xl/printerSettings/printerSettings1.bin"] = bytes(range(256)) * 4
    _add_types(parts)
    _relate(
        parts,
        "xl/workbook.xml",
        ("rIdPerson", f"{_MS10.replace('2007', '2017/10')}/person", "persons/person.xml"),
    )
    _relate(
        parts,
        "xl/workbook.xml",
        ("rIdSlicerCache", f"{_MS10}/slicerCache", "/xl/slicerCaches/slicerCache1.xml"),
    )
    _relate(parts, "xl/workbook.xml", ("rIdChain", f"{_OFFICE}/calcChain", "calcChain.xml"))
    _relate(parts, "xl/workbook.xml", ("rIdCustom", f"{_OFFICE}/customXml", "../customXml/item1.xml"))
    _relate(
        parts,
        _PARTS_SHEET,
        (
            "rIdThread",
            f"{_MS10.replace('2007', '2017/10')}/threadedComment",
            "../threadedComments/threadedComment1.xml",
        ),
    )
    _relate(parts, _PARTS_SHEET, ("rIdSlicer", f"{_MS10}/slicer", "../slicers/slicer1.xml"))
    _relate(
        parts,
        _PARTS_SHEET,
        ("rIdPrinter", f"{_OFFICE}/printerSettings", "../printerSettings/printerSettings1.bin"),
    )
    parts["customXml/_rels/item1.xml.rels"] = _xml(
        '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
        f'<Relationship Id="rId1" Type="{_OFFICE}/customXmlProps" Target="itemProps1.xml"/></Relationships>'
    )
    before, mark, after = parts[_PARTS_SHEET].rpartition(b"<extLst>")  # the last one is the sheet's own
    parts[_PARTS_SHEET] = before + mark + (_VALIDATION + _SHEET_SLICER).encode() + after
    _replace(parts, _PARTS_SHEET, b"<pageSetup ", b'<pageSetup r:id="rIdPrinter" ')
    _replace(parts, "xl/workbook.xml", b"</workbook>", _BOOK_SLICER.encode() + b"</workbook>")
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in parts.items():
            file.writestr(zipfile.ZipInfo(name, (2026, 5, 4, 8, 0, 0)), content)
    return memory.getvalue()


def _xml(text: str) -> bytes:
    return b'<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\r\n' + text.encode()


def _add_types(parts: dict[str, bytes]) -> None:
    entries = "".join(f'<Override PartName="{n}" ContentType="{kind}"/>' for n, kind in _OVERRIDES.items())
    entries += '<Default Extension="dat" ContentType="application/octet-stream"/>'
    if b'Extension="bin"' not in parts["[Content_Types].xml"]:
        entries += '<Default Extension="BIN" ContentType="application/vnd.openxmlformats-officedocument.'
        entries += 'spreadsheetml.printerSettings"/>'
    # A program that spells an extension in capitals must still be understood.
    types = parts["[Content_Types].xml"].replace(b'Extension="png"', b'Extension="PNG"')
    parts["[Content_Types].xml"] = types.replace(b"</Types>", entries.encode() + b"</Types>")


def _relate(parts: dict[str, bytes], source: str, relation: tuple[str, str, str]) -> None:
    folder, _, base = source.rpartition("/")
    name = f"{folder}/_rels/{base}.rels"
    entry = '<Relationship Id="{}" Type="{}" Target="{}"/>'.format(*relation)
    _replace(parts, name, b"</Relationships>", entry.encode() + b"</Relationships>")


def _replace(parts: dict[str, bytes], name: str, old: bytes, new: bytes) -> None:
    assert parts[name].count(old) == 1, f"{name} holds {old!r} {parts[name].count(old)} times"
    parts[name] = parts[name].replace(old, new)
