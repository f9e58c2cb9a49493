"""A big campus as a workbook, by size; invented, and the same for the same size."""

import io
from collections.abc import Iterator
from datetime import date, timedelta

from openpyxl import Workbook

from inventory.workbook.sheets import BY_CODE

ON_A_BUS = 20  # nodes
BUSES_IN_A_BUILDING = 100
FIRST_DAY = date(1998, 1, 5)
Row = tuple[object, ...]


def big_workbook(nodes: int) -> bytes:
    """Return a workbook with so many nodes, about as many runs, and the buses and buildings that they need."""
    buses = -(-nodes // ON_A_BUS)
    buildings = -(-buses // BUSES_IN_A_BUILDING)
    book = Workbook(write_only=True)
    _sheet(book, "buildings", ((_building(i), f"House {i}", "North", "Europe/Lisbon") for i in range(buildings)))
    _sheet(book, "cables", (("2x2", "18 AWG", 1),))
    _sheet(book, "models", ((f"WS-{i}", "station", f"Wall station {i}") for i in range(50)))
    _sheet(book, "buses", ((_bus(i), _building(i // BUSES_IN_A_BUILDING)) for i in range(buses)))
    _sheet(book, "nodes", (_node_row(i) for i in range(nodes)))
    _sheet(book, "runs", _run_rows(nodes))
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _sheet(book: Workbook, code: str, rows: Iterator[Row] | tuple[Row, ...]) -> None:
    sheet = book.create_sheet(BY_CODE[code].title)
    sheet.append([column.heading for column in BY_CODE[code].columns])
    for row in rows:
        sheet.append(row)


def _building(i: int) -> str:
    return f"B{i:03d}"


def _bus(i: int) -> str:
    return f"L{i:06d}"


def _node(i: int) -> str:
    return f"N{i:07d}"


def _node_row(i: int) -> Row:
    bus = i // ON_A_BUS
    installed = FIRST_DAY + timedelta(days=i % 9000)
    places = (_node(i), _building(bus // BUSES_IN_A_BUILDING), None, f"WS-{i % 50}", _bus(bus), None, None, None)
    return (*places, f"20-{i:06d}", installed, 1 + i % 5, i % 8, i % 16, 1 + i % 3, ("yes", "no", None)[i % 3], None)


def _run_rows(nodes: int) -> Iterator[Row]:
    """Yield a ring for each bus: as many runs as nodes."""
    for i in range(nodes):
        bus = i // ON_A_BUS
        first, last = bus * ON_A_BUS, min((bus + 1) * ON_A_BUS, nodes) - 1
        yield f"R{i:07d}", _bus(bus), _node(i), _node(i + 1 if i < last else first), "2x2", 3.5 + i % 40, None
