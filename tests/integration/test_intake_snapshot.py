"""Tables into a snapshot: sorted by code point, unknown as documented, equal campuses equal."""

from datetime import date
from decimal import Decimal

import numpy as np
import pytest

from inventory.core.catalogue import EndsBus, NodeKind
from inventory.core.snapshot import ENDS_NO, ENDS_YES, UNKNOWN
from inventory.services.calendars import put_calendars
from inventory.services.intake import take_in
from inventory.store import known_keys, load_snapshot
from planner.store.intake import ALL_TARGETS
from tests.books import SMALL, book, small

pytestmark = pytest.mark.django_db


def test_an_empty_campus_is_a_snapshot_without_rows() -> None:
    snapshot = load_snapshot()
    assert (len(snapshot.nodes), len(snapshot.runs), snapshot.buildings) == (0, 0, ())
    assert snapshot.nodes.bus.shape == (0, 4)
    assert snapshot.catalogue.protocols, "the open standards are built in"


def test_every_figure_stands_where_the_workbook_put_it() -> None:
    assert take_in(small(), "campus.xlsx", ALL_TARGETS, None).stored
    snapshot = load_snapshot(taken_on=date(2026, 1, 1))
    nodes, runs = snapshot.nodes, snapshot.runs
    assert nodes.key == ("G1", "S1", "S2")
    assert [snapshot.buildings[at].key for at in nodes.building] == ["B1", "B1", "B2"]
    assert [(snapshot.rooms[at].building, snapshot.rooms[at].key) for at in nodes.room] == [
        (0, "1.01"),
        (0, "1.01"),
        (1, "1.01"),
    ]
    assert [snapshot.catalogue.models[at].key for at in nodes.model] == ["GW-1", "WS-1", "WS-1"]
    l1, m1 = (next(at for at, bus in enumerate(snapshot.buses) if bus.key == key) for key in ("L1", "M1"))
    assert nodes.bus.tolist() == [[l1, m1, -1, -1], [l1, -1, -1, -1], [-1, -1, -1, -1]]
    assert nodes.ends_bus.tolist() == [ENDS_YES, UNKNOWN, ENDS_NO]
    assert nodes.condition.tolist() == [2, 3, UNKNOWN]
    assert nodes.installed.astype(str).tolist() == ["2004-09-01", "2004-09-02", "NaT"]
    assert nodes.failures.tolist() == [0, 2, 0]
    assert (runs.bus.tolist(), runs.from_node.tolist(), runs.to_node.tolist()) == ([l1], [0], [1])
    assert runs.length_m.tolist() == [12.5]
    assert snapshot.taken_on == date(2026, 1, 1)
    kinds = {model.key: (model.kind, model.protocol, model.part) for model in snapshot.catalogue.models}
    assert kinds == {"GW-1": (NodeKind.GATEWAY, "OLDBUS", None), "WS-1": (NodeKind.STATION, "OLDBUS", "P-1")}
    assert snapshot.catalogue.parts[0].price == Decimal("7.4")
    assert [(spare.on_hand, spare.store) for spare in snapshot.catalogue.spares] == [(4, None), (2, "Attic")]
    assert [(zone.node, zone.key, zone.label, zone.panel) for zone in snapshot.zones] == [(1, "1", "Front", UNKNOWN)]


def test_an_unknown_length_is_nan_and_an_unknown_cable_has_no_position() -> None:
    runs = [("Run", "Bus", "From", "To"), ("R1", "L1", "G1", "S1")]
    assert take_in(small(Runs=runs), "campus.xlsx", ALL_TARGETS, None).stored
    snapshot = load_snapshot()
    assert np.isnan(snapshot.runs.length_m).all()
    assert snapshot.runs.cable.tolist() == [UNKNOWN]


def test_keys_stand_in_order_of_code_points_on_every_database() -> None:
    # A language's own order would put a before B and ignore the dash; code points say - B Z a ä.
    names = ["a", "B", "ä", "-", "Z"]
    rows = [("Node", "Building", "Model"), *((name, "B1", "WS-1") for name in names)]
    base = {title: SMALL[title] for title in ("Buildings", "Protocols", "Parts", "Models")}
    assert take_in(book({**base, "Nodes": rows}), "campus.xlsx", ALL_TARGETS, None).stored
    assert load_snapshot().nodes.key == ("-", "B", "Z", "a", "ä")


def test_methods_come_with_their_parts_steps_and_pins_in_order() -> None:
    sheets = {
        "Methods": [("Method", "Old model", "New model", "New protocol"), ("M1", "WS-1", "WS-1", "OLDBUS")],
        "Method parts": [("Method", "Part", "Quantity", "Per", "When"), ("M1", "P-1", 2, "station", None)],
        "Method steps": [("Method", "Step", "Text", "Outage"), ("M1", 10, "Test", "no"), ("M1", 2, "Isolate", "yes")],
        "Method pins": [("Method", "Signal", "RJ45 pin"), ("M1", "H", 1), ("M1", "G", None)],
    }
    assert take_in(small(**sheets), "campus.xlsx", ALL_TARGETS, None).stored  # type: ignore[arg-type]
    (method,) = load_snapshot().catalogue.methods
    assert [(part.part, part.quantity, part.when) for part in method.parts] == [("P-1", Decimal(2), "always")]
    assert [(step.step, step.outage) for step in method.steps] == [(2, True), (10, False)]
    assert {(pin.signal, pin.rj45_pin) for pin in method.pins} == {("H", 1), ("G", None)}


def test_an_end_resistor_on_a_switch_is_its_own_answer() -> None:
    models = [("Model", "Kind", "Ends its bus"), ("WS-1", "station", "switch"), ("GW-1", "gateway", "no")]
    assert take_in(small(Models=models), "campus.xlsx", ALL_TARGETS, None).stored
    assert {model.ends_bus for model in load_snapshot().catalogue.models} == {EndsBus.SWITCH, EndsBus.NO}


def test_calendars_on_file_come_along_as_they_were() -> None:
    content = b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\nEND:VCALENDAR\r\n"
    assert put_calendars({"B1.ics": content}, None) == ()
    assert load_snapshot().calendars == {"B1.ics": content}


def test_checks_are_told_what_is_stored() -> None:
    assert take_in(small(), "campus.xlsx", ALL_TARGETS, None).stored
    known = known_keys(ALL_TARGETS)
    assert known.keys["rooms"] == {("B1", "1.01"), ("B2", "1.01")}
    assert "OLDBUS" in known.keys["protocol_names"]
    assert known.node_buses["G1"] == ("L1", "M1")
    assert known.model_kinds["GW-1"] == "gateway"
    assert known.wired_buses == {"L1"}
    assert known.node_installed == {"G1": date(2004, 9, 1), "S1": date(2004, 9, 2)}
