"""Rows into tables, tables into snapshots: the only place that knows both."""

from inventory.store.snapshot import Stored, load_places, load_snapshot, load_stored, place_positions
from inventory.store.stored import known_keys, stored_rows
from inventory.store.targets import TARGETS, Target

__all__ = [
    "TARGETS",
    "Stored",
    "Target",
    "known_keys",
    "load_places",
    "load_snapshot",
    "load_stored",
    "place_positions",
    "stored_rows",
]
