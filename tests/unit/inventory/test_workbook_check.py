"""Rows against each other and against what is stored."""

from collections.abc import Callable
from dataclasses import fields
from datetime import date, time
from decimal import Decimal
from typing import Any

import pytest

from inventory.core.problems import Problem, Severity
from inventory.workbook.check import check_rows
from inventory.workbook.columns import Column, Kind, Sheet
from inventory.workbook.rows import KnownKeys, SheetRows
from inventory.workbook.sheets import SHEETS
from tests.workbooks import codes, rows_of, workbook_rows

NOTHING = KnownKeys()
CAMPUS = KnownKeys(
    keys={
        "buildings": {"B1", "B2"},
        "rooms": {("B1", "1.01"), ("B2", "2.01")},
        "protocol_names": {"OLD", "NEW"},
        "cables": {"2x2"},
        "parts": {"P"},
        "models": {"WS", "WS-NEW", "GW", "PN"},
        "buses": {"L1", "L2", "M1", "X2"},
        "nodes": {"S1", "S2", "G1", "P1"},
        "methods": {"M"},
    },
    model_kinds={"WS": "station", "WS-NEW": "station", "GW": "gateway", "PN": "panel"},
    bus_buildings={"L1": "B1", "L2": "B1", "M1": "B1", "X2": "B2"},
    node_models={"S1": "WS", "S2": "WS", "G1": "GW", "P1": "PN"},
    node_buses={"S1": ("L1",), "S2": ("L2",), "G1": ("L1", "M1")},
    node_installed={"S1": date(2004, 9, 1)},
)


def found(*sheets: SheetRows, known: KnownKeys = CAMPUS) -> list[tuple[str, int | None, str | None]]:
    return [(problem.code, problem.row, problem.column) for problem in check_rows(workbook_rows(*sheets), known)]


def nodes(**columns: list[object]) -> SheetRows:
    count = len(next(iter(columns.values())))
    plain = {"key": [f"N{n}" for n in range(count)], "building": ["B1"] * count, "model": ["WS"] * count}
    return rows_of("nodes", **{**plain, **columns})


def runs(**columns: list[object]) -> SheetRows:
    count = len(next(iter(columns.values())))
    plain = {"key": [f"R{n}" for n in range(count)], "bus": ["L1"] * count}
    return rows_of("runs", **{**plain, **columns})


def test_rows_that_fit_what_is_stored_have_no_problem() -> None:
    assert found(nodes(room=["1.01"], bus=["L1"]), runs(from_node=["G1"], to_node=["S1"], cable=["2x2"])) == []


def test_rows_that_fit_each_other_have_no_problem() -> None:
    buildings = rows_of("buildings", key=["B9"])
    models = rows_of("models", key=["X"], kind=["station"])
    assert found(buildings, models, nodes(building=["B9"], model=["X"]), known=NOTHING) == []


REFERENCES = [
    (sheet, column)
    for sheet in SHEETS
    for column in sheet.columns
    if column.kind is Kind.REFERENCE
    and column.within is None
    and (sheet.code, column.name) != ("protocols", "protocol")
]


@pytest.mark.parametrize(
    ("sheet", "column"), REFERENCES, ids=lambda part: getattr(part, "code", getattr(part, "name", ""))
)
def test_every_reference_of_the_table_is_checked(sheet: Sheet, column: Column) -> None:
    problems = check_rows(workbook_rows(rows_of(sheet.code, **{column.name: ["no such"]})), CAMPUS)
    told = [p for p in problems if p.code == "unknown-reference"]
    assert [(p.sheet, p.row, p.column, p.value) for p in told] == [(sheet.title, 2, column.heading, "no such")]
    assert told[0].severity is Severity.ERROR


def test_a_reference_that_is_not_known_is_no_problem() -> None:
    assert found(nodes(room=[None], bus=[None], ends_bus=[None])) == []


def test_a_reference_off_by_case_is_told_with_the_likely_one() -> None:
    problem = check_rows(workbook_rows(nodes(bus=["l1 "])), CAMPUS)[0]
    assert problem.code == "unknown-reference"
    assert "did you mean L1?" in problem.remedy


def test_protocols_are_named_by_their_rows_and_by_what_is_built_in() -> None:
    protocols = rows_of("protocols", protocol=["MINE", "MINE"], bit_rate_kbit_s=[1.0, 2.0])
    buses = rows_of("buses", key=["L8", "L9"], building=["B1", "B1"], protocol=["MINE", "NEW"])
    assert found(protocols, buses) == []


def test_a_room_is_known_only_in_its_own_building() -> None:
    assert found(nodes(building=["B1", "B2"], room=["1.01", "1.01"])) == [("unknown-reference", 3, "Room")]
    assert found(rows_of("rooms", building=["B2"], key=["1.01"]), nodes(building=["B2"], room=["1.01"])) == []


def test_a_room_in_an_unknown_building_is_told_once() -> None:
    assert found(nodes(building=["B7"], room=["1.01"])) == [("unknown-reference", 2, "Building")]


def test_a_closure_of_a_room_names_its_building() -> None:
    closure = rows_of(
        "closures",
        building=[None, None],
        room=["1.01", None],
        start=["2027-03-01 08:00"] * 2,
        end=["2027-03-02 08:00"] * 2,
    )
    assert found(closure) == [("room-without-building", 2, "Room")]


def test_a_key_may_stand_only_once() -> None:
    assert found(nodes(key=["N1", "N2", "N1", "N1"])) == [("duplicate-key", 4, "Node"), ("duplicate-key", 5, "Node")]


def test_a_key_of_several_parts_is_double_only_if_all_parts_are() -> None:
    assert found(rows_of("rooms", building=["B1", "B2", "B1"], key=["1", "1", "1"])) == [("duplicate-key", 4, "Room")]


def test_a_part_of_a_key_that_may_be_blank_counts_as_itself() -> None:
    spares = rows_of("spares", model=["WS", "WS", "WS"], on_hand=[1, 2, 3], store=[None, "Main", None])
    assert found(spares) == [("duplicate-key", 4, "Store")]


def test_keys_that_are_not_known_are_not_double() -> None:
    assert found(nodes(key=[None, None])) == []


def test_when_left_out_means_always() -> None:
    parts = rows_of("method_parts", method=["M", "M"], part=["P", "P"], quantity=[Decimal(1)] * 2, per=["order"] * 2)
    assert found(parts) == [("duplicate-key", 3, "When")]


KINDS = [
    ("WS", ["L1", None], None),
    ("WS", [None, None], None),
    ("WS", ["L1", "M1"], "too-many-buses"),
    ("PN", ["L1", "M1"], "too-many-buses"),
    ("GW", ["L1", "M1"], None),
    ("GW", ["L1", None], "gateway-with-one-bus"),
    ("GW", [None, "M1"], "gateway-with-one-bus"),
    ("GW", [None, None], "gateway-without-bus"),
    ("GW", ["L1", "L1"], "bus-twice"),
]


@pytest.mark.parametrize(("model", "buses", "code"), KINDS)
def test_only_a_gateway_has_two_buses_and_it_has_them(model: str, buses: list[object], code: str | None) -> None:
    seen = found(nodes(model=[model], bus=buses[:1], bus_2=buses[1:]))
    assert [problem[0] for problem in seen] == ([code] if code else [])


def test_the_files_own_kind_of_a_model_beats_the_stored_one() -> None:
    models = rows_of("models", key=["WS"], kind=["gateway"])
    assert found(models, nodes(bus=["L1"], bus_2=["M1"])) == []


def test_a_file_that_does_not_name_buses_says_nothing_of_them() -> None:
    assert found(nodes(model=["GW"], condition=[3])) == []


def test_a_gateway_may_have_four_buses_in_one_building() -> None:
    four = nodes(model=["GW"], bus=["L1"], bus_2=["L2"], bus_3=["M1"], bus_4=["X2"])
    assert found(four) == [("bus-of-another-building", 2, "Bus 4")]


def test_what_merely_contradicts_is_a_warning() -> None:
    problems = check_rows(workbook_rows(nodes(bus=["X2"]), runs(from_node=["S1"], to_node=["S2"])), CAMPUS)
    assert {problem.code: problem.severity for problem in problems} == {
        "bus-of-another-building": Severity.WARNING,
        "no-shared-bus": Severity.WARNING,
    }


RUN_ENDS: list[tuple[str, str, str, str | None]] = [
    ("L1", "G1", "S1", None),
    ("L1", "S1", "S2", "no-shared-bus"),
    ("L2", "G1", "S1", "run-of-another-bus"),
    ("L1", "S1", "P1", None),  # P1 names no bus, which contradicts nothing
    ("L1", "S1", "S1", "run-to-itself"),
]


@pytest.mark.parametrize(("bus", "one", "other", "code"), RUN_ENDS)
@pytest.mark.parametrize("stored", [True, False])
def test_the_ends_of_a_run_share_its_bus(bus: str, one: str, other: str, code: str | None, stored: bool) -> None:  # noqa: FBT001
    own = nodes(
        key=["S1", "S2", "G1", "P1"],
        model=["WS", "WS", "GW", "PN"],
        bus=["L1", "L2", "L1", None],
        bus_2=[None, None, "M1", None],
    )
    seen = found(*(() if stored else (own,)), runs(bus=[bus], from_node=[one], to_node=[other]))
    assert [problem[0] for problem in seen] == ([code] if code else [])


def test_a_bus_with_no_run_is_named_once_runs_are_recorded() -> None:
    buses = rows_of("buses", key=["L1", "L5"], building=["B1", "B1"])
    assert found(buses) == []
    assert found(buses, runs(from_node=["G1"], to_node=["S1"])) == [("bus-without-run", 3, "Bus")]
    wired = KnownKeys(keys=CAMPUS.keys, wired_buses={"L5"})
    assert found(buses, known=wired) == [("bus-without-run", 2, "Bus")]


@pytest.mark.parametrize(
    ("day", "problems"), [(date(2004, 9, 1), []), (date(2004, 8, 31), ["failed-before-installed"])]
)
def test_nothing_fails_before_it_is_installed(day: date, problems: list[str]) -> None:
    failures = rows_of("failures", node=["S1"], date=[day])
    assert [problem[0] for problem in found(failures)] == problems
    own = nodes(key=["S1"], installed=[date(2000, 1, 1)])
    assert found(own, failures) == []


def failures(*seen: tuple[str, date, str | None]) -> SheetRows:
    node, day, outcome = (list(column) for column in zip(*seen, strict=True))
    return rows_of("failures", node=node, date=day, what_failed=[f"{n}" for n in range(len(seen))], outcome=outcome)


def test_two_failures_of_a_node_in_a_day_are_told_at_the_second() -> None:
    day, next_day = date(2020, 3, 1), date(2020, 3, 2)
    rows = failures(("S1", day, "repaired"), ("S2", day, None), ("S1", day, None), ("S1", next_day, None))
    assert found(rows) == [("failed-twice-in-a-day", 4, "Date")]


def test_a_removed_node_that_fails_is_told_unless_another_was_put_in_since() -> None:
    gone, later = date(2020, 3, 1), date(2020, 3, 2)
    rows = failures(("S1", later, "repaired"), ("S1", gone, "removed"), ("S2", later, None))
    assert found(rows) == [("failed-after-removed", 2, "Date")]
    assert found(failures(("S1", gone, "removed"))) == []
    since = nodes(key=["S1"], installed=[date(2020, 3, 2)])
    assert [one[0] for one in found(since, failures(("S1", date(2020, 6, 1), None), ("S1", gone, "removed")))] == [
        "failed-before-installed"
    ]


ORDERS: list[tuple[str, dict[str, list[object]], str | None]] = [
    ("phases", {"key": ["P"], "start": [date(2027, 2, 1)], "end": [date(2027, 2, 1)]}, None),
    ("phases", {"key": ["P"], "start": [date(2027, 2, 1)], "end": [date(2027, 1, 31)]}, "ends-before-start"),
    (
        "phases",
        {
            "key": ["P"],
            "start": [date(2027, 2, 1)],
            "end": [date(2027, 3, 1)],
            "materials_ordered_on": [date(2027, 3, 1)],
        },
        None,
    ),
    (
        "phases",
        {
            "key": ["P"],
            "start": [date(2027, 2, 1)],
            "end": [date(2027, 3, 1)],
            "materials_ordered_on": [date(2027, 3, 2)],
        },
        "ordered-after-phase",
    ),
    ("closures", {"start": ["2027-03-01 08:00"], "end": ["2027-03-01 08:01"]}, None),
    ("closures", {"start": ["2027-03-01 08:00"], "end": ["2027-03-01 08:00"]}, "ends-before-start"),
    ("closures", {"start": ["2027-03-01 08:00"], "end": ["2027-02-28 09:00"]}, "ends-before-start"),
    (
        "models",
        {"key": ["A"], "kind": ["station"], "last_sold": [date(2011, 6, 30)], "supported_until": [date(2011, 6, 30)]},
        None,
    ),
    (
        "models",
        {"key": ["A"], "kind": ["station"], "last_sold": [date(2011, 6, 30)], "supported_until": [date(2011, 6, 29)]},
        "support-ended-before-sale",
    ),
    ("zones", {"node": ["S1"], "key": ["1"], "lowest_pct": [40.0], "highest_pct": [40.0]}, None),
    ("zones", {"node": ["S1"], "key": ["1"], "lowest_pct": [41.0], "highest_pct": [40.0]}, "limits-crossed"),
    (
        "protocols",
        {"protocol": ["A"], "lowest_impedance_ohm": [141.0], "highest_impedance_ohm": [140.0]},
        "limits-crossed",
    ),
]


@pytest.mark.parametrize(("sheet", "columns", "code"), ORDERS)
def test_what_comes_first_comes_first(sheet: str, columns: dict[str, list[object]], code: str | None) -> None:
    assert [problem[0] for problem in found(rows_of(sheet, **columns))] == ([code] if code else [])


WORDS: list[tuple[str, str, list[str], list[str], str]] = [
    (
        "buildings",
        "time_zone",
        ["Europe/Lisbon", "UTC", "America/Argentina/Ushuaia"],
        ["Europe/Atlantis", "../etc", "Lisbon time"],
        "unknown-time-zone",
    ),
    (
        "buildings",
        "holidays",
        ["PT", "DE-BY", "US-CA", "GB-ENG"],
        ["ZZ", "DE-XX", "Portugal", "pt"],
        "unknown-holidays",
    ),
    ("parts", "currency", ["EUR", "JPY", "CHF"], ["euro", "EURO", "€", "XXQ"], "unknown-currency"),
    (
        "cables",
        "power_conductor",
        ["18 AWG", "0.75 mm2", "AWG 18"],
        ["thick", "18", "0.75 m", "-1 mm2"],
        "size-not-understood",
    ),
    ("scenes", "levels", ["1=80, 2=40", "1=0", "a=100;b=5 %"], ["1=101", "80", "1=", "1=80,"], "levels-not-understood"),
    ("crews", "days", ["Mon Tue", "mon,tue", "Sun"], ["Mo", "Monday", "weekdays", "Mon-Fri"], "days-not-understood"),
    ("rooms", "calendar", ["B1-1.01.ics", "x.ICS"], ["B1-1.01.xlsx", "../x.ics", "c:\\x.ics"], "not-a-calendar-name"),
]


@pytest.mark.parametrize(("sheet", "name", "good", "bad", "code"), WORDS)
def test_codes_and_sizes_mean_something(sheet: str, name: str, good: list[str], bad: list[str], code: str) -> None:
    texts: list[object] = [*good, *bad, None]
    keys: dict[str, list[object]] = {"key": [f"K{n}" for n in range(len(texts))]}
    problems = check_rows(workbook_rows(rows_of(sheet, **{**keys, name: texts})), CAMPUS)
    assert [problem.value for problem in problems if problem.code == code] == bad


def test_a_pack_holds_something_and_a_price_has_a_currency() -> None:
    parts = rows_of(
        "parts",
        key=["A", "B", "C"],
        pack=[Decimal(0), Decimal("0.5"), None],
        price=[None, Decimal(7), Decimal(7)],
        currency=[None, None, "EUR"],
    )
    assert found(parts) == [("pack-of-nothing", 2, "Pack"), ("price-without-currency", 3, "Price")]


def test_a_delivery_brings_something() -> None:
    rows = {"part": ["P", "P"], "due": [date(2027, 1, 1)] * 2, "quantity": [Decimal(0), Decimal("0.5")]}
    assert ("delivery-of-nothing", 2, "Quantity") in found(rows_of("deliveries", **rows))
    assert ("delivery-of-nothing", 3, "Quantity") not in found(rows_of("deliveries", **rows))


def test_hours_at_which_crews_are_admitted_can_be_read() -> None:
    hours = ["Mon-Thu 18:00-07:00, Sat Sun 00:00-24:00", "nights", "Mon 25:00-26:00", "Fri-Mon 8:00-17.30"]
    buildings = rows_of("buildings", key=["A", "B", "C", "D"], crews_admitted=hours)
    assert [row for code, row, _ in found(buildings) if code == "hours-not-understood"] == [3, 4]


def test_shortest_likely_and_longest_minutes_of_a_step_stand_in_this_order() -> None:
    steps = rows_of(
        "method_steps",
        method=["M"] * 4,
        step=[1, 2, 3, 4],
        text=["do it"] * 4,
        minutes=[5.0, 5.0, 5.0, None],
        shortest_min=[5.0, 6.0, 4.0, 9.0],
        longest_min=[5.0, 9.0, 4.0, 3.0],
    )
    told = [(row, column) for code, row, column in found(steps) if code == "minutes-out-of-order"]
    assert sorted(told) == [(3, "Minutes"), (4, "Longest (min)")]


def test_a_shift_has_both_ends_or_none() -> None:
    crews = rows_of(
        "crews",
        key=["A", "B", "C"],
        people=[1, 1, 1],
        shift_from=[time(21), None, time(21)],
        shift_to=[time(6), None, None],
    )
    assert found(crews) == [("half-a-shift", 4, "From")]


def test_districts_are_those_of_the_buildings() -> None:
    buildings = rows_of("buildings", key=["B1", "B2"], district=["North bank", "Quay"])
    phases = rows_of("phases", key=["P", "Q", "R"], districts=["north bank, Quay", None, "Quay, South"])
    assert found(buildings, phases) == [("unknown-district", 4, "Districts")]
    assert found(phases) == []


METHODS: list[tuple[str, str, str | None]] = [
    ("old_model", "WS", None),
    ("old_model", "GW", "not-a-station"),
    ("new_model", "PN", "not-a-station"),
    ("old_gateway_model", "GW", None),
    ("old_gateway_model", "WS", "not-a-gateway"),
    ("new_gateway_model", "PN", "not-a-gateway"),
]


@pytest.mark.parametrize(("name", "model", "code"), METHODS)
def test_methods_name_stations_and_gateways(name: str, model: str, code: str | None) -> None:
    columns: dict[str, list[object]] = {
        "key": ["M1"],
        "old_model": ["WS"],
        "new_model": ["WS-NEW"],
        "new_protocol": ["NEW"],
    }
    seen = found(rows_of("methods", **{**columns, name: [model]}))
    assert [problem[0] for problem in seen] == ([code] if code else [])


def test_a_method_that_changes_nothing_is_named() -> None:
    method = rows_of("methods", key=["M1"], old_model=["WS"], new_model=["WS"], new_protocol=["NEW"])
    assert found(method) == [("same-model", 2, "New model")]


def test_stations_command_and_panels_carry_out() -> None:
    zones = rows_of("zones", node=["S1", "G1", "S1"], key=["1", "1", "2"], panel=["P1", "P1", "S2"])
    assert found(zones) == [("not-a-station", 3, "Node"), ("not-a-panel", 4, "Panel")]


def test_the_order_of_rows_changes_nothing_but_the_row_numbers() -> None:
    def seen(order: Callable[[list[object]], list[object]]) -> list[tuple[str, str | None, str | None]]:
        ends = runs(from_node=order(["S1", "G1", "S1"]), to_node=order(["S2", "S1", "S1"]))
        problems: tuple[Problem, ...] = check_rows(workbook_rows(ends, nodes(bus=order(["X2", "L1", "no"]))), CAMPUS)
        return sorted((p.code, p.sheet, p.value) for p in problems)

    assert seen(list) == seen(lambda cells: cells[::-1])
    assert codes(check_rows(workbook_rows(), NOTHING)) == []


def test_a_new_key_that_is_a_number_on_record_but_for_its_zeros_is_asked_about() -> None:
    """A cell of 0.10 that is no text holds the number 0.1 (ECMA-376-1, 18.18.11: type n), so the zero is gone for good."""
    known = KnownKeys(keys={"buildings": {"B1", "B2"}, "rooms": {("B1", "0.10"), ("B1", "1.01"), ("B2", "2.50")}})
    rooms = rows_of("rooms", building=["B1", "B1", "B1", "B2", "B1"], key=["0.1", "1.01", "2.5", "2.5", "0.1a"])
    problems = check_rows(workbook_rows(rooms), known)
    assert [(p.code, p.severity, p.row) for p in problems] == [
        ("lost-zeros", Severity.WARNING, 2),
        ("lost-zeros", Severity.WARNING, 5),
    ]
    assert "0.10 is on record" in problems[0].message


def test_a_reference_that_lost_its_zeros_is_told_what_it_may_have_meant() -> None:
    known = KnownKeys(**{**_fields(CAMPUS), "keys": {**CAMPUS.keys, "rooms": {("B1", "0.10")}, "buses": {"007", "L1"}}})
    problems = check_rows(workbook_rows(nodes(room=["0.1", "0.2"], bus=["7", "L1"])), known)
    said = {(p.row, p.column): p.remedy for p in problems if p.code == "unknown-reference"}
    assert "did you mean 0.10?" in said[2, "Room"]
    assert "did you mean" not in said[3, "Room"]
    assert "did you mean 007?" in said[2, "Bus"]


def _fields(known: KnownKeys) -> dict[str, Any]:
    return {one.name: getattr(known, one.name) for one in fields(known)}
