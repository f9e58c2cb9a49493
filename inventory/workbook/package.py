"""What a file is before anything trusts it: a workbook of a size that can be read, without traps inside.

A workbook is a zip of XML parts. The directory of the zip is judged first, then every part is inflated in small
pieces and thrown away, so that neither a false size nor a cell far out can make the reader claim memory.
"""

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from inventory.workbook.gather import Gathered

XML_NAMES = (".xml", ".rels", ".vml")
MOST_PARTS = 5_000
MOST_BYTES = 1_000_000_000  # inflated, all parts together; 100,000 nodes and 100,000 runs need about 85,000,000
FREE_BYTES = 32_000_000  # up to here the ratio does not matter
MOST_RATIO = 150  # repetitive sheets reach about 60
PIECE = 32 * 1024  # of compressed data at a time; inflates to 33 MB at the very most
CUT = 16  # bytes at the end of a piece in which the start of a cell tag may be cut off
OVERLAP = 2 * CUT  # bytes of the piece before that are looked at again
LOCAL_HEADER = 30
OLE_MAGIC = bytes.fromhex("D0CF11E0A1B11AE1")
ENCRYPTED_NAME = "EncryptedPackage".encode("utf-16-le")
UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")
LESS_THAN, COLON, LETTER_C, LETTER_F = b"<:cf"
ODD_CELL = re.compile(rb"<c(?=[\s/>])(?! r=\"[A-Z][0-9]{1,6}\")")  # any cell tag but a plain one in columns A to Z


@dataclass(slots=True, kw_only=True)
class Part:
    """One part of the package, and what a quick look found in it that needs a close one."""

    name: str
    size: int = 0
    document_type: bool = False
    wide_text: bool = False  # UTF-16, which would hide everything else from the quick look
    formulas: bool = False
    errors: bool = False
    far_cells: bool = False  # cells beyond column Z or row 999,999, or cells that do not say plainly where they are
    tail: bytes = b""

    @property
    def is_xml(self) -> bool:
        """Tell whether the part is read as XML."""
        return self.name.casefold().endswith(XML_NAMES)

    @property
    def is_sheet(self) -> bool:
        """Tell whether the part may hold cells."""
        return self.name.casefold().startswith("xl/") and self.name.casefold().endswith(".xml")


class PackageError(ValueError):
    """A package that must not be read; `code` and `remedy` as in a problem."""

    def __init__(self, code: str, message: str, remedy: str) -> None:
        super().__init__(message)
        self.code = code
        self.remedy = remedy


def look_at(content: bytes, found: Gathered) -> tuple[Part, ...] | None:
    """Return the parts of a workbook that may be read, or None after saying what keeps it out."""
    try:
        return tuple(_parts(content))
    except PackageError as error:
        found.add(error.code, str(error), error.remedy)
        return None


def _parts(content: bytes) -> Iterator[Part]:
    spent = 0
    for info in _directory(content):
        part = Part(name=info.filename)
        for piece in _pieces(content, info):
            spent += len(piece)
            _refuse_size(spent, len(content))
            _look(part, piece)
            part.size += len(piece)
        _look(part, b" " * OVERLAP)
        if part.size != info.file_size:
            raise _damaged(f"its part {info.filename} is not as long as the file says")
        yield _judged(part)


def _directory(content: bytes) -> list[zipfile.ZipInfo]:
    """Return the directory of the zip; nothing is inflated here."""
    if content.startswith(OLE_MAGIC):
        raise _ole(content)
    if not content.startswith(b"PK"):
        raise PackageError(
            "not-a-workbook", "This is not a workbook", "save it from the spreadsheet as .xlsx and try again"
        )
    try:
        infos = zipfile.ZipFile(io.BytesIO(content)).infolist()
    except (zipfile.BadZipFile, zlib.error, struct.error, ValueError, OSError, NotImplementedError) as error:
        raise _damaged("its directory cannot be read") from error
    names = {info.filename.casefold() for info in infos}
    if "xl/workbook.xml" not in names:
        raise PackageError("not-a-workbook", "This zip holds no workbook", "save the workbook as .xlsx and try again")
    if len(names) != len(infos) or len(infos) > MOST_PARTS:
        raise _damaged("its directory names a part twice, or far too many parts")
    _refuse_size(sum(info.file_size for info in infos), len(content))
    return infos


def _ole(content: bytes) -> PackageError:
    if ENCRYPTED_NAME in content:
        return PackageError(
            "password", "The workbook is protected by a password", "open it, remove the password, save it and try again"
        )
    return PackageError(
        "old-format",
        "This is a workbook of the old .xls format, or one that is protected by a password",
        "open it, remove any password, save it as .xlsx and try again",
    )


def _damaged(what: str) -> PackageError:
    return PackageError(
        "damaged", f"The workbook is cut short or damaged: {what}", "fetch or save the file again and try once more"
    )


def _refuse_size(inflated: int, packed: int) -> None:
    if inflated > MOST_BYTES or inflated > max(FREE_BYTES, MOST_RATIO * packed):
        raise PackageError(
            "unpacks-too-far",
            f"The file weighs {packed:,} bytes and would unpack to {inflated:,} or more",
            "save the sheets that are needed in a new workbook and try again",
        )


def _pieces(content: bytes, info: zipfile.ZipInfo) -> Iterator[bytes]:
    """Yield what the part holds, inflated, in pieces, going by the data and not by the sizes the zip claims."""
    if info.flag_bits & 1:
        raise PackageError("password", "The zip is encrypted", "save the workbook without a password and try again")
    head = content[info.header_offset : info.header_offset + LOCAL_HEADER]
    if len(head) < LOCAL_HEADER or not head.startswith(b"PK\x03\x04"):
        raise _damaged(f"its part {info.filename} is not where the file says")
    start = info.header_offset + LOCAL_HEADER + sum(struct.unpack("<HH", head[26:30]))
    data = memoryview(content)[start : start + info.compress_size]
    if len(data) < info.compress_size:
        raise _damaged(f"its part {info.filename} ends too soon")
    if info.compress_type == zipfile.ZIP_STORED:
        yield from (bytes(data[at : at + PIECE * 32]) for at in range(0, len(data), PIECE * 32))
    elif info.compress_type == zipfile.ZIP_DEFLATED:
        yield from _inflated(data, info.filename)
    else:
        raise _damaged(f"its part {info.filename} is packed in a way that workbooks are not")


def inflate_part(content: bytes, name: str) -> Iterator[bytes]:
    """Yield one part in pieces; for parts of a package that was looked at before."""
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        infos = {info.filename.casefold(): info for info in package.infolist()}
    yield from _pieces(content, infos[name.casefold()])


def _inflated(data: memoryview, name: str) -> Iterator[bytes]:
    inflate = zlib.decompressobj(-zlib.MAX_WBITS)
    try:
        for at in range(0, len(data), PIECE):
            yield inflate.decompress(data[at : at + PIECE])
    except zlib.error as error:
        raise _damaged(f"its part {name} cannot be inflated") from error
    if not inflate.eof:
        raise _damaged(f"its part {name} ends too soon")


def _judged(part: Part) -> Part:
    if part.document_type or part.wide_text:
        raise PackageError(
            "document-type",
            f"Part {part.name} of the workbook declares a document type or entities, which no spreadsheet writes",
            "save the workbook again from the spreadsheet and try again",
        )
    return part


def _look(part: Part, piece: bytes) -> None:
    """Note in `part` what `piece` holds that needs a closer look; tags may begin in the piece before."""
    if not part.size:
        part.wide_text = part.is_xml and (piece.startswith(UTF16_MARKS) or b"\0" in piece[:4])
    data = part.tail + piece
    part.tail = data[-OVERLAP:]
    part.document_type |= part.is_xml and (b"<!DOCTYPE" in data or b"<!ENTITY" in data)
    if part.is_sheet:
        _look_at_cells(part, data)


def _look_at_cells(part: Part, data: bytes) -> None:
    this = np.frombuffer(data, np.uint8)[:-1]
    after = np.frombuffer(data, np.uint8)[1:]
    part.formulas |= bool(((this == LESS_THAN) & (after == LETTER_F)).any())
    part.errors |= b't="e"' in data
    odd = ODD_CELL.search(data)
    part.far_cells |= odd is not None and odd.start() < len(data) - CUT
    part.far_cells |= bool(((this == COLON) & (after == LETTER_C)).any())
