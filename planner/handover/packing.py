"""Makes a workbook's bytes depend on its content alone: the file format is a zip, and zips carry clocks."""

import re
from datetime import datetime
from io import BytesIO
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

PROPERTIES = "docProps/core.xml"
EARLIEST = (1980, 1, 1, 0, 0, 0)  # first moment the zip format can name
_STAMP = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*(</dcterms:)")
READ_BY_ALL = 0o644 << 16


def repack(workbook: bytes, made: datetime) -> bytes:
    """Return the workbook with `made` as its one date, inside and out, so that equal content gives equal bytes."""
    stamp = made.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    packed = BytesIO()
    with ZipFile(BytesIO(workbook)) as old, ZipFile(packed, "w", ZIP_DEFLATED) as new:
        for member in old.infolist():
            content = old.read(member)
            if member.filename == PROPERTIES:
                content = _STAMP.sub(rb"\g<1>" + stamp + rb"\g<2>", content)
            info = ZipInfo(member.filename, EARLIEST)
            info.compress_type, info.external_attr = ZIP_DEFLATED, READ_BY_ALL
            new.writestr(info, content)
    return packed.getvalue()
