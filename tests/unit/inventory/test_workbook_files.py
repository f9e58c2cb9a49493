"""Files that must get a clear message and leave everything untouched."""

import io
import struct
import zipfile
import zlib

import pytest
from openpyxl import Workbook

from inventory.workbook.package import FREE_BYTES, OLE_MAGIC, OVERLAP, PIECE
from inventory.workbook.read import read_workbook
from inventory.workbook.suspects import MOST_CELLS, MOST_ROWS, column_number
from tests.workbooks import book_of, codes, raw_book, text_xml

GOOD = book_of({"Buildings": [["Building", "Outages at once"], ["B1", 1]]})
HEADING = f'<row r="1">{text_xml("A1", "Building")}{text_xml("B1", "Outages at once")}</row>'


def only_problem(content: bytes) -> str:
    rows = read_workbook(content)
    assert rows.sheets == {}
    assert len(rows.problems) == 1
    assert rows.problems[0].message
    assert rows.problems[0].remedy
    return rows.problems[0].code


def cells_problem(row: str) -> list[tuple[str, int | None, str | None, str | None]]:
    rows = read_workbook(raw_book(f"<sheetData>{HEADING}{row}</sheetData>"))
    return [(problem.code, problem.row, problem.column, problem.value) for problem in rows.problems]


def repacked(change: dict[str, bytes], kind: int = zipfile.ZIP_DEFLATED) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(GOOD)) as old, zipfile.ZipFile(stream, "w", kind) as new:
        for name in old.namelist():
            new.writestr(name, change.get(name, old.read(name)))
        for name in change.keys() - set(old.namelist()):
            new.writestr(name, change[name])
    return stream.getvalue()


def test_the_good_workbook_is_good() -> None:
    assert read_workbook(GOOD).problems == ()
    assert read_workbook(repacked({}, zipfile.ZIP_STORED)).problems == ()


@pytest.mark.parametrize("content", [b"", b"Building,Name\nB1,Weir House\n", b"%PDF-1.7", b"PK", b"\x00" * 5000])
def test_what_is_no_workbook(content: bytes) -> None:
    assert only_problem(content) in ("not-a-workbook", "damaged")


def test_a_zip_of_something_else_is_no_workbook() -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as package:
        package.writestr("letter.txt", "hello")
    assert only_problem(stream.getvalue()) == "not-a-workbook"


def test_a_password_is_named() -> None:
    # MS-OFFCRYPTO 2.3.4.4: an encrypted workbook is an OLE container with a stream called EncryptedPackage (UTF-16)
    assert only_problem(OLE_MAGIC + b"\0" * 1024 + "EncryptedPackage".encode("utf-16-le") + b"\0" * 512) == "password"
    assert only_problem(OLE_MAGIC + b"\0" * 2048) == "old-format"


def test_an_encrypted_zip_is_named() -> None:
    content = bytearray(GOOD)
    at = content.index(b"PK\x01\x02")
    content[at + 8] |= 1  # bit 0 of the flags: encrypted (APPNOTE 4.4.4)
    assert only_problem(bytes(content)) == "password"


@pytest.mark.parametrize("part", [0.1, 0.5, 0.9, 0.999])
def test_a_workbook_cut_short_is_damaged(part: float) -> None:
    assert only_problem(GOOD[: int(len(GOOD) * part)]) == "damaged"


def test_damaged_data_inside_is_told() -> None:
    content = bytearray(GOOD)
    at = content.index(b"xl/worksheets/sheet1.xml") + len("xl/worksheets/sheet1.xml")
    content[at : at + 40] = b"\xff" * 40
    assert only_problem(bytes(content)) == "damaged"


def test_xml_that_breaks_off_is_told() -> None:
    rows = read_workbook(raw_book(f'<sheetData>{HEADING}<row r="2"><c r="A2"'))
    assert codes(rows.problems) == ["damaged"]
    assert rows.sheets == {}


def test_a_zip_that_says_it_unpacks_far_is_refused_before_anything_is_unpacked() -> None:
    bomb = repacked({"xl/media/big.bin": b"\0" * (FREE_BYTES + 1)})
    assert only_problem(bomb) == "unpacks-too-far"


def test_just_under_the_free_size_any_ratio_is_good() -> None:
    padding = FREE_BYTES - 100_000
    assert read_workbook(repacked({"xl/media/big.bin": b"\0" * padding})).problems == ()


def test_a_zip_that_lies_about_its_size_is_found_out() -> None:
    content = bytearray(repacked({"xl/media/big.bin": b"\0" * (FREE_BYTES + 1)}))
    for mark, at_size in ((b"PK\x01\x02", 24), (b"PK\x03\x04", 22)):  # APPNOTE 4.3.12 and 4.3.7: uncompressed size
        at = content.rindex(b"xl/media/big.bin") if mark == b"PK\x01\x02" else content.index(b"xl/media/big.bin")
        head = content.rindex(mark, 0, at)
        content[head + at_size : head + at_size + 4] = struct.pack("<I", 10)
    assert only_problem(bytes(content)) == "unpacks-too-far"


def test_a_part_that_is_shorter_than_it_says_is_damaged() -> None:
    content = bytearray(GOOD)
    at = content.rindex(b"xl/worksheets/sheet1.xml")
    head = content.rindex(b"PK\x01\x02", 0, at)
    size = struct.unpack("<I", content[head + 24 : head + 28])[0]
    content[head + 24 : head + 28] = struct.pack("<I", size + 1)
    assert only_problem(bytes(content)) == "damaged"


def test_packing_that_workbooks_do_not_use_is_refused() -> None:
    assert only_problem(repacked({}, zipfile.ZIP_LZMA)) == "damaged"


def test_a_part_named_twice_is_refused() -> None:
    stream = io.BytesIO(GOOD)
    with pytest.warns(UserWarning, match="Duplicate"), zipfile.ZipFile(stream, "a") as package:
        package.writestr("xl/workbook.xml", "<workbook/>")
    assert only_problem(stream.getvalue()) == "damaged"


@pytest.mark.parametrize(
    "before",
    [
        '<!DOCTYPE worksheet [<!ENTITY a "AAAA">]>',
        '<!DOCTYPE worksheet SYSTEM "file:///etc/hostname">',
        f"<!--{'x' * (PIECE * 3)}--><!DOCTYPE worksheet>",
        *(f"<!--{'x' * (PIECE * 32 - OVERLAP - shift)}--><!DOCTYPE worksheet>" for shift in range(0, 90, 7)),
    ],
)
def test_a_document_type_is_refused_wherever_it_stands(before: str) -> None:
    assert only_problem(raw_book(f"<sheetData>{HEADING}</sheetData>", before=before)) == "document-type"


def test_a_document_type_in_any_part_is_refused() -> None:
    assert only_problem(raw_book("<sheetData/>", parts={"docProps/app.xml": "<!DOCTYPE x><x/>"})) == "document-type"


def test_utf_16_which_could_hide_one_is_refused() -> None:
    text = '<?xml version="1.0" encoding="UTF-16"?><sst/>'
    content = repacked({"xl/extra.xml": text.encode("utf-16")})
    assert only_problem(content) == "document-type"


@pytest.mark.parametrize("claim", ["A1:A1000000000", "A1:XFD1048576"])
def test_a_sheet_that_only_claims_to_be_huge_is_read_for_what_it_holds(claim: str) -> None:
    rows = read_workbook(
        raw_book(f'<dimension ref="{claim}"/><sheetData>{HEADING}<row r="2">{text_xml("A2", "B1")}</row></sheetData>')
    )
    assert rows.problems == ()
    assert rows.sheets["buildings"].columns["key"] == ["B1"]


@pytest.mark.parametrize(
    "place",
    ["A1000000000", f"A{MOST_ROWS + 1}", "XFE2", "XFD1048576", "AAAAAAA2", f"T{MOST_ROWS}", "xfd1048576"],
)
@pytest.mark.parametrize("form", ['<c r="{}"><v>1</v></c>', "<c r='{}'><v>1</v></c>", '<c s="1" r="{}"><v>1</v></c>'])
def test_a_cell_far_out_is_refused_before_it_claims_memory(place: str, form: str) -> None:
    sheet = f"<sheetData>{HEADING}<row>{form.format(place)}</row></sheetData>"
    assert only_problem(raw_book(sheet)) == "too-many-cells"


def test_a_cell_far_out_under_a_prefix_is_refused_too() -> None:
    sheet = f'<sheetData xmlns:x="http://schemas.openxmlformats.org/spreadsheetml/2006/main">{HEADING}<x:row><x:c r="XFD1048576"><x:v>1</x:v></x:c></x:row></sheetData>'
    assert only_problem(raw_book(sheet)) == "too-many-cells"


def test_the_largest_rectangle_is_read_and_one_row_more_is_not() -> None:
    width = column_number("CV")  # 100 columns
    last = MOST_CELLS // width
    for row, problems in ((last, []), (last + 1, ["too-many-cells"])):
        sheet = f'<sheetData>{HEADING}<row r="{row}"><c r="CV{row}"/></row></sheetData>'
        # the cell is empty, so that nothing but the claim is judged
        assert codes(read_workbook(raw_book(sheet)).problems) == problems


def test_a_formula_with_its_result_is_read_as_the_result() -> None:
    row = f'<row r="2">{text_xml("A2", "B1")}<c r="B2"><f>1+1</f><v>2</v></c></row>'
    rows = read_workbook(raw_book(f"<sheetData>{HEADING}{row}</sheetData>"))
    assert rows.problems == ()
    assert rows.sheets["buildings"].columns["outages_at_once"] == [2]


def test_a_formula_whose_result_is_an_empty_text_is_blank() -> None:
    row = f'<row r="2">{text_xml("A2", "B1")}<c r="B2" t="str"><f>""</f><v></v></c></row>'
    assert cells_problem(row) == []


@pytest.mark.parametrize(
    "cell", ['<c r="B2"><f>1+1</f></c>', '<c r="B2"><f>1+1</f><v/></c>', '<c r="B2"><f t="shared" si="0"/><v></v></c>']
)
def test_a_formula_without_its_result_is_named(cell: str) -> None:
    row = f'<row r="2">{text_xml("A2", "B1")}{cell}</row>'
    assert cells_problem(row) == [("formula-without-value", 2, "Outages at once", "formula")]


def test_a_formula_written_by_a_program_that_does_not_calculate_is_named() -> None:
    book = Workbook()
    page = book.active
    page.title = "Buildings"
    page.append(["Building", "Outages at once"])
    page.append(["B1", "=1+1"])
    stream = io.BytesIO()
    book.save(stream)
    assert codes(read_workbook(stream.getvalue()).problems) == ["formula-without-value"]


@pytest.mark.parametrize("error", ["#REF!", "#N/A", "#VALUE!", "#DIV/0!"])
def test_an_error_cell_is_named_with_its_error(error: str) -> None:
    row = f'<row r="2">{text_xml("A2", "B1")}<c r="B2" t="e"><v>{error}</v></c></row>'
    assert cells_problem(row) == [("error-cell", 2, "Outages at once", error)]


def test_an_error_in_a_needed_cell_is_told_once() -> None:
    row = '<row r="2"><c r="A2" t="e"><v>#REF!</v></c><c r="B2"><v>1</v></c></row>'
    assert cells_problem(row) == [("error-cell", 2, "Building", "#REF!")]


def test_errors_in_a_column_that_is_not_read_are_passed_by() -> None:
    row = f'<row r="2">{text_xml("A2", "B1")}<c r="D2" t="e"><v>#REF!</v></c></row>'
    assert cells_problem(row) == []


def test_text_that_looks_like_an_error_or_a_formula_is_text() -> None:
    rows = read_workbook(book_of({"Buildings": [["Building", "Name"], ["#REF!", "=1+1"]]}))
    assert rows.problems == ()
    assert rows.sheets["buildings"].columns == {"key": ["#REF!"], "name": ["=1+1"]}


@pytest.mark.parametrize(("merged", "code"), [("A1:B1", "merged-headings"), ("A2:A3", "merged-cells")])
def test_merged_cells_are_named(merged: str, code: str) -> None:
    sheet = f'<sheetData>{HEADING}<row r="2">{text_xml("A2", "B1")}</row></sheetData><mergeCells count="1"><mergeCell ref="{merged}"/></mergeCells>'
    problems = read_workbook(raw_book(sheet)).problems
    assert code in codes(problems)
    assert merged.replace(":", " to ") in " ".join(problem.message for problem in problems)


def test_a_sheet_under_a_name_that_hides_it_is_refused() -> None:
    hidden = f'<worksheet><sheetData>{HEADING}<row><c r="XFD1048576"><v>1</v></c></row></sheetData></worksheet>'
    with zipfile.ZipFile(io.BytesIO(GOOD)) as package:
        relations = package.read("xl/_rels/workbook.xml.rels").replace(b"sheet1.xml", b"sheet1.png")
    content = repacked({"xl/_rels/workbook.xml.rels": relations, "xl/worksheets/sheet1.png": hidden.encode()})
    assert only_problem(content) == "damaged"


@pytest.mark.parametrize("target", [b"/xl/worksheets/sheet1.xml", b"worksheets/sheet1.xml"])
def test_every_way_to_name_a_sheets_part_is_understood(target: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(GOOD)) as package:
        relations = package.read("xl/_rels/workbook.xml.rels").replace(b"/xl/worksheets/sheet1.xml", target)
    assert read_workbook(repacked({"xl/_rels/workbook.xml.rels": relations})).problems == ()


def test_a_shared_text_that_is_not_there_is_damage() -> None:
    sheet = f'<sheetData>{HEADING}<row r="2"><c r="A2" t="s"><v>99</v></c></row></sheetData>'
    assert codes(read_workbook(raw_book(sheet)).problems) == ["damaged"]


@pytest.mark.parametrize("seed", range(60))
def test_no_flipped_byte_makes_the_reader_raise(seed: int) -> None:
    content = bytearray(GOOD)
    at = zlib.crc32(bytes([seed])) % len(content)
    content[at] ^= 0xFF
    read_workbook(bytes(content))
