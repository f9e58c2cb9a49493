"""The inventory workbook, blank or filled, the planner's sheets included."""

from inventory.store.stored import stored_rows
from inventory.workbook.write import write_blank, write_filled
from planner.store.intake import ALL_TARGETS


def blank_workbook() -> bytes:
    """Return the workbook to fill in."""
    return write_blank()


def filled_workbook() -> bytes:
    """Return the campus as stored; taken in again it changes nothing."""
    return write_filled(stored_rows(ALL_TARGETS))
