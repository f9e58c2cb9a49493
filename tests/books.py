"""Small workbooks written by hand: sheet by sheet, headings first."""

import io
from collections.abc import Mapping, Sequence

from openpyxl import Workbook

Table = Sequence[Sequence[object]]

SMALL: dict[str, Table] = {
    "Buildings": [("Building", "Name", "District", "Time zone"), ("B1", "Mill", "North", "Europe/Lisbon"), ("B2", "Dye House", None, None)],
    "Rooms": [("Building", "Room", "Floor"), ("B1", "1.01", "1"), ("B2", "1.01", "1")],
    "Protocols": [("Protocol", "Bit rate (kbit/s)", "Longest bus (m)"), ("OLDBUS", None, 300), ("OLDBUS", 9.6, 200)],
    "Cables": [("Cable", "Power pairs"), ("2x2", 1)],
    "Parts": [("Part", "Price", "Currency", "Pack"), ("P-1", 7.4, "EUR", 10)],
    "Models": [("Model", "Kind", "Protocol", "Part"), ("WS-1", "station", "OLDBUS", "P-1"), ("GW-1", "gateway", "OLDBUS", None)],
    "Buses": [("Bus", "Building", "Protocol"), ("L1", "B1", "OLDBUS"), ("M1", "B1", None)],
    "Nodes": [
        ("Node", "Building", "Room", "Model", "Bus", "Bus 2", "Installed", "Condition", "Ends its bus", "Note"),
        ("G1", "B1", "1.01", "GW-1", "L1", "M1", "2004-09-01", 2, "yes", None),
        ("S1", "B1", "1.01", "WS-1", "L1", None, "2004-09-02", 3, None, "stiff"),
        ("S2", "B2", "1.01", "WS-1", None, None, None, None, "no", None),
    ],
    "Runs": [("Run", "Bus", "From", "To", "Cable", "Length (m)"), ("R1", "L1", "G1", "S1", "2x2", 12.5)],
    "Zones": [("Node", "Zone", "Label"), ("S1", "1", "Front")],
    "Spares": [("Model", "On hand", "Store"), ("WS-1", 4, None), ("WS-1", 2, "Attic")],
    "Failures": [("Node", "Date", "What failed"), ("S1", "2025-01-02", None), ("S1", "2025-01-03", "slider")],
}  # fmt: skip


def book(tables: Mapping[str, Table]) -> bytes:
    """Return a workbook with these sheets."""
    made = Workbook(write_only=True)
    for title, rows in tables.items():
        sheet = made.create_sheet(title)
        for row in rows:
            sheet.append(list(row))
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def small(**changed: Table | None) -> bytes:
    """Return the small campus with some sheets put in the place of its own; None leaves a sheet out."""
    tables = {**SMALL, **changed}
    return book({title: rows for title, rows in tables.items() if rows is not None})
