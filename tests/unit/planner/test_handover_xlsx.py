"""The hand-over workbook: what a person finds when it is opened, filtered, printed and edited."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from io import BytesIO
from zipfile import ZipFile

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.utils import range_boundaries
from openpyxl.worksheet.worksheet import Worksheet

from planner.core.findings import Outcome
from planner.core.materials import Takeoff
from planner.core.outlook import OrderOutlook, Outlook, PhaseOutlook
from planner.handover.facts import FindingRow, purchase_rows
from planner.handover.tables import FINDINGS, handover_tables
from planner.handover.xlsx import LONGEST_TEXT, write_handover
from tests.handed import AFTER_CHANGE, BEFORE_CHANGE, MADE, line, place, small_handover

WANTED = (
    "Summary",
    "Phases",
    "Orders",
    "Segments",
    "Take-off",
    "Purchases",
    "Downtime windows",
    "How sure",
    "Orders at risk",
    "Landing tables",
    "Survey",
)


class Sums:
    """Works out the few kinds of formula that the hand-over uses, so that a test sees what a spreadsheet would."""

    def __init__(self, book: Workbook) -> None:
        self.book = book

    def value(self, page: Worksheet, address: str) -> object:
        held = page[address.replace("$", "")].value
        is_live = page[address.replace("$", "")].data_type == "f"
        return self.formula(page, held[1:]) if is_live else held

    def column(self, page: Worksheet, where: str) -> list[object]:
        title, _, cells = where.rpartition("!")
        sheet = self.book[title.strip("'")] if title else page
        left, top, right, bottom = range_boundaries(cells)
        assert left is not None
        assert left == right
        assert top is not None
        assert bottom is not None
        return [self.value(sheet, sheet.cell(row=row, column=left).coordinate) for row in range(top, bottom + 1)]

    def formula(self, page: Worksheet, text: str) -> object:
        if found := re.fullmatch(r'IF\((\w+)="","",(.*)\)', text):
            return "" if self.value(page, found[1]) is None else self.formula(page, found[2])
        if found := re.fullmatch(r"(SUM|COUNTA|SUBTOTAL|COUNTIF|SUMIF)\((.*)\)", text):
            return self.call(page, found[1], found[2].split(","))
        if "+" in text or "-" in text:
            terms = re.findall(r"([+-]?)([A-Z]+\d+)", text)
            return sum((-1 if sign == "-" else 1) * number(self.value(page, cell)) for sign, cell in terms)
        first, second = text.split("*")
        return number(self.value(page, first)) * number(self.value(page, second))

    def call(self, page: Worksheet, name: str, given: list[str]) -> float:
        if name == "SUBTOTAL":
            assert given.pop(0) == "109"
        values = self.column(page, given[0])
        if name == "COUNTA":
            return sum(value is not None for value in values)
        if name in {"SUM", "SUBTOTAL"}:
            return sum(number(value) for value in values)
        wanted = given[1].strip('"') if '"' in given[1] else self.value(page, given[1])
        added = self.column(page, given[2]) if name == "SUMIF" else [1] * len(values)
        return sum(number(extra) for value, extra in zip(values, added, strict=True) if value == wanted)


def number(value: object) -> float:
    return float(value) if isinstance(value, (int, float)) else 0.0


@pytest.fixture(scope="module")
def content() -> bytes:
    return write_handover(small_handover())


@pytest.fixture(scope="module")
def book(content: bytes) -> Workbook:
    return load_workbook(BytesIO(content))


def column_of(page: Worksheet, heading: str) -> int:
    return [cell.value for cell in page[1]].index(heading) + 1


def value_at(book: Workbook, title: str, row: int, heading: str) -> object:
    page = book[title]
    return Sums(book).value(page, page.cell(row=row, column=column_of(page, heading)).coordinate)


def test_a_bound_of_which_a_fact_is_missing_is_no_figure_on_the_sheet() -> None:
    handed = small_handover()
    report = handed.reports[0]
    finding = replace(report.findings[0], measured=3.5, limit=5.0, margin=1.5)
    columns = {column.name: column.get for column in FINDINGS}

    def shown(outcome: Outcome) -> list[object]:
        row = FindingRow(report=report, finding=replace(finding, outcome=outcome))
        return [get(row) for name in ("measured", "limit", "margin") if (get := columns[name])]

    assert shown(Outcome.PASS) == [3.5, 5.0, 1.5]
    assert shown(Outcome.UNKNOWN) == [None, 5.0, None]


def test_every_sheet_of_the_hand_over_is_there_and_has_rows(book: Workbook) -> None:
    assert [title for title in book.sheetnames if title in WANTED] == list(WANTED)
    assert all(book[title].max_row > 1 for title in WANTED)


def test_same_facts_give_the_same_bytes(content: bytes) -> None:
    assert write_handover(small_handover()) == content


def test_only_the_moment_of_making_dates_the_file(content: bytes) -> None:
    with ZipFile(BytesIO(content)) as packed:
        assert {member.date_time for member in packed.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        properties = packed.read("docProps/core.xml").decode()
    assert properties.count(MADE.strftime("%Y-%m-%dT%H:%M:%SZ")) == 2


def test_phase_costs_are_live_sums_of_its_orders(book: Workbook) -> None:
    # parts 100.10 + labour 80.00 + outage 12.50 + call-out 10.00 = 202.60; A-2: 50.05 instead of 100.10 = 152.55
    assert value_at(book, "Phases", 2, "Cost") == pytest.approx(202.60)
    assert value_at(book, "Phases", 3, "Cost") == pytest.approx(152.55)
    assert value_at(book, "Phases", 4, "Cost") == pytest.approx(355.15)
    assert [value_at(book, "Phases", row, "Stations") for row in (2, 3, 4)] == [2, 1, 3]
    assert value_at(book, "Phases", 2, "Left") == pytest.approx(300 - 202.60)


def test_an_order_costs_on_the_sheet_what_it_costs_in_the_plan(book: Workbook) -> None:
    costs = {order.key: float(order.cost) for order in small_handover().orders}
    for row in (2, 3, 4):
        assert value_at(book, "Orders", row, "Cost") == pytest.approx(
            costs[str(value_at(book, "Orders", row, "Order"))]
        )


def test_a_phase_without_budget_has_nothing_left_to_say(book: Workbook) -> None:
    assert value_at(book, "Phases", 3, "Budget") is None
    assert value_at(book, "Phases", 3, "Left") == ""


def test_unplanned_orders_stand_last_with_their_reason_and_count_in_no_phase(book: Workbook) -> None:
    assert [value_at(book, "Orders", row, "Order") for row in (2, 3, 4)] == ["A-1", "A-2", "B-1"]
    assert value_at(book, "Orders", 4, "Not planned because") == "the budget is spent"
    assert value_at(book, "Orders", 4, "Phase") is None


def test_summary_counts_follow_the_other_sheets(book: Workbook) -> None:
    page = book["Summary"]
    said = {page.cell(row=row, column=1).value: row for row in range(1, page.max_row + 1)}
    sums = Sums(book)
    assert sums.value(page, f"B{said['Orders planned']}") == 2
    assert sums.value(page, f"B{said['Orders left out, with reasons']}") == 1
    assert sums.value(page, f"B{said['Stations converted by the plan']}") == 3
    assert sums.value(page, f"B{said['Old stations in all']}") == 8
    assert sums.value(page, f"B{said['survey first']}") == 1
    assert sums.value(page, f"C{said['survey first']}") == 5
    assert sums.value(page, f"B{said['Cost of the plan']}") == pytest.approx(355.15)


def test_two_currencies_are_never_added(book: Workbook) -> None:
    # EUR: 1 pack of 10 at 7.40 = 74.00; USD: 2 packs of 10 at 0.10 = 2.00; P-3 has no price and costs nothing known
    assert [value_at(book, "Take-off", row, "Phase") for row in (5, 6)] == ["Total EUR", "Total USD"]
    assert [value_at(book, "Take-off", row, "Cost") for row in (5, 6)] == [pytest.approx(74.0), pytest.approx(2.0)]
    assert value_at(book, "Take-off", 4, "Cost") == ""


def test_net_need_is_reckoned_from_what_stands_beside_it(book: Workbook) -> None:
    assert value_at(book, "Take-off", 2, "Net") == pytest.approx(9.6)  # 12 + 0.6 - 2 - 1


def test_purchases_go_by_order_by_date_and_say_how_late(book: Workbook) -> None:
    assert [value_at(book, "Purchases", row, "Part") for row in (2, 3, 4)] == ["P-1", "P-2", "P-3"]
    assert value_at(book, "Purchases", 2, "Days late") == 5  # 20 to 25 November
    assert value_at(book, "Purchases", 3, "Days late") is None


def test_times_are_those_of_the_buildings_own_clock_over_the_change_of_the_clock(book: Workbook) -> None:
    # British clocks go forward on 28 March 2027: 21:00 UTC is 21:00 on the 26th and 22:00 on the 29th
    assert value_at(book, "Orders", 2, "On site from (local)") == datetime(2027, 3, 26, 21, 0)  # noqa: DTZ001
    assert value_at(book, "Orders", 3, "On site from (local)") == datetime(2027, 3, 29, 22, 0)  # noqa: DTZ001
    assert value_at(book, "Downtime windows", 3, "Dark from (local)") == datetime(2027, 3, 29, 22, 20)  # noqa: DTZ001


def test_each_building_keeps_its_own_clock() -> None:
    # 21:00 UTC on 29 March 2027 is 17:00 in New York, where clocks went forward on 14 March
    full = small_handover()
    handed = replace(full, plan=replace(full.plan, placed=(place("B-1", AFTER_CHANGE, "Phase 1"),)))
    book = load_workbook(BytesIO(write_handover(handed)))
    assert value_at(book, "Orders", 2, "On site from (local)") == datetime(2027, 3, 29, 17, 0)  # noqa: DTZ001


@pytest.mark.parametrize(("days", "late"), [(0, None), (1, 1)])
def test_what_is_ordered_on_its_day_is_not_late(days: int, late: int | None) -> None:
    on_the_day = datetime(2026, 11, 20, 12, tzinfo=UTC)  # P-1 must be ordered by then
    rows = purchase_rows(replace(small_handover(), made=on_the_day + timedelta(days=days)))
    assert rows[0].late_days == late


@pytest.mark.parametrize(
    ("title", "row", "heading", "said"),
    [
        ("Take-off", 2, "Description", "=SUM(1,2) looks like a formula"),
        ("Take-off", 2, "Supplier", "+49 looks like a number"),
        ("Findings", 2, "Why", "@home"),
        ("Segments", 2, "Why", "-"),
        ("Survey", 2, "Question", "=How long is run R1?"),
    ],
)
def test_text_that_looks_like_a_formula_stays_text(
    book: Workbook, title: str, row: int, heading: str, said: str
) -> None:
    page = book[title]
    cell = page.cell(row=row, column=column_of(page, heading))
    assert (cell.value, cell.data_type) == (said, "s")
    assert cell.quotePrefix, "editing the cell must not turn it into a formula"


def test_letters_a_workbook_cannot_hold_are_marked_not_dropped() -> None:
    odd = replace(line("Phase 1", "P-1", packs=1, price="1.00"), note="bell \x07 " + "x" * LONGEST_TEXT)
    handed = replace(small_handover(), takeoff=Takeoff(lines=(odd,), by_order=(), cost_by_currency=()))
    note = value_at(load_workbook(BytesIO(write_handover(handed))), "Take-off", 2, "Note")
    assert isinstance(note, str)
    assert note.startswith("bell \ufffd x")
    assert len(note) == LONGEST_TEXT
    assert note.endswith("…")


def test_money_has_its_currency_and_dates_are_dates(book: Workbook) -> None:
    page = book["Take-off"]
    assert page.cell(row=3, column=column_of(page, "Price")).number_format == "#,##0.00 [$USD]"
    assert isinstance(page.cell(row=3, column=column_of(page, "Order by")).value, datetime)
    assert isinstance(page.cell(row=3, column=column_of(page, "Price")).value, float)


A4_LONG_IN, CHARACTER_IN = (
    11.69,
    7 / 96,
)  # ISO 216; a digit of the standard font of 11 points has 7 pixels at 96 an inch
LETTERS_PT, LEAST_PT = 11, 6


def test_every_sheet_prints_on_the_paper_with_its_headings(book: Workbook) -> None:
    for page in book.worksheets:
        assert (page.page_setup.orientation, page.page_setup.fitToHeight) == ("landscape", 0)
        assert page.sheet_properties.pageSetUpPr is not None
        assert page.sheet_properties.pageSetUpPr.fitToPage
        assert page.print_title_rows == "$1:$1"
        assert page.print_title_cols == "$A:$A"
        assert page.freeze_panes is not None


def test_no_sheet_is_printed_smaller_than_one_can_read(book: Workbook) -> None:
    for page in book.worksheets:
        first, *others = [column.width for column in page.column_dimensions.values()]
        papers = page.page_setup.fitToWidth
        paper_in = A4_LONG_IN - page.page_margins.left - page.page_margins.right
        columns_in = (first + sum(others) / papers) * CHARACTER_IN  # the first stands on every paper
        assert LETTERS_PT * min(paper_in / columns_in, 1) >= LEAST_PT, page.title
        assert papers == 1 or columns_in * papers > paper_in, f"{page.title} takes more paper than it needs"


def test_filters_cover_the_rows_and_leave_the_totals_alone(book: Workbook) -> None:
    assert book["Orders"].auto_filter.ref.endswith("4")  # three orders in rows 2 to 4, total in row 5
    assert book["Orders"].cell(row=5, column=1).value == "Total shown"


def test_a_hand_over_of_nothing_says_so_on_every_sheet() -> None:
    full = small_handover()
    plan = replace(full.plan, placed=(), unplanned=(), check=(), phases=())
    handed = replace(
        full, reports=(), orders=(), windows=(), plan=plan, takeoff=Takeoff(lines=(), by_order=(), cost_by_currency=())
    )
    book = load_workbook(BytesIO(write_handover(handed)))
    assert book["Orders"]["A2"].value == "no segment can be converted yet"
    assert book["Survey"]["A2"].value == "no open question"


def test_every_column_name_is_used_once_on_its_sheet() -> None:
    for table in handover_tables(small_handover()):
        names = [column.name for column in table.columns]
        headings = [column.heading for column in table.columns]
        assert len(set(names)) == len(names)
        assert len(set(headings)) == len(headings)
        assert all((column.get is None) != (column.formula is None) for column in table.columns)


def test_a_later_hand_over_differs_by_its_date_alone(content: bytes) -> None:
    later = write_handover(replace(small_handover(), made=MADE + timedelta(days=1)))
    assert later != content


FIRST = PhaseOutlook(
    phase="Phase 1", orders=3, closes=date(2027, 3, 28), planned=BEFORE_CHANGE, p10=BEFORE_CHANGE,
    p50=BEFORE_CHANGE, p80=AFTER_CHANGE, p90=None, spills=0.25,
)  # fmt: skip
SECOND = replace(FIRST, phase="Phase 2", orders=1, p50=AFTER_CHANGE, p80=None, spills=0.0)
RISK = OrderOutlook(
    order="A-1", building="A", night=date(2027, 3, 26), planned_min=125, mean_min=131.4, room_min=180.0,
    overruns=0.125, put_off=0.0, not_done=0.0, fails=0.125,
)  # fmt: skip
CALM = replace(RISK, order="A-2", overruns=0.0)


@pytest.fixture(scope="module")
def sure_book() -> Workbook:
    outlook = Outlook(courses=2000, seed=7, phases=(FIRST, SECOND), orders=(RISK, CALM))
    return load_workbook(BytesIO(write_handover(replace(small_handover(), outlook=outlook))))


def test_how_sure_the_dates_are_stands_on_a_sheet_by_phase_in_local_time_with_odds_as_numbers(
    sure_book: Workbook,
) -> None:
    seen = {
        heading: value_at(sure_book, "How sure", 2, heading)
        for heading in ("Half of the courses by", "Four in five by", "Odds to run past it", "Note")
    }
    # London: 21:00 UTC is 21:00 before the change of clocks on 28 March 2027 and 22:00 after it
    assert seen == {
        "Half of the courses by": datetime(2027, 3, 26, 21),  # noqa: DTZ001 - a cell has no zone
        "Four in five by": datetime(2027, 3, 29, 22),  # noqa: DTZ001 - a cell has no zone
        "Odds to run past it": 0.25,
        "Note": None,
    }
    page = sure_book["How sure"]
    assert page.cell(row=2, column=column_of(page, "Odds to run past it")).number_format == "0.0%"


def test_a_date_that_is_not_reached_is_blank_and_the_note_says_why(sure_book: Workbook) -> None:
    assert value_at(sure_book, "How sure", 3, "Four in five by") is None
    assert (
        value_at(sure_book, "How sure", 3, "Note") == "not done within the windows known in four in five of the courses"
    )


def test_only_orders_at_risk_are_listed_and_the_summary_names_the_phase_that_is_likeliest_to_spill(
    sure_book: Workbook,
) -> None:
    page = sure_book["Orders at risk"]
    assert [row[0] for row in page.iter_rows(min_row=2, values_only=True)] == ["A-1"]
    assert value_at(sure_book, "Orders at risk", 2, "Odds to overrun") == 0.125
    told = {row[0]: row[1] for row in sure_book["Summary"].iter_rows(values_only=True)}
    assert told["Most likely to run past its last day"] == "Phase 1"
    assert told["In so many of the courses"] == 0.25


def test_where_nothing_is_left_to_do_the_sheets_say_so(book: Workbook) -> None:
    assert book["How sure"]["A2"].value == "nothing is left to chance"
    assert book["Orders at risk"]["A2"].value == "no order overran its window or was put off in any course"


def test_what_must_come_first_stands_beside_each_order() -> None:
    plain = small_handover()
    orders = tuple(replace(each, predecessors=("A-1", "B-1")) if each.key == "A-2" else each for each in plain.orders)
    page = load_workbook(BytesIO(write_handover(replace(plain, orders=orders))))["Orders"]
    at = column_of(page, "Comes after") - 1
    assert {row[0]: row[at] for row in page.iter_rows(min_row=2, values_only=True) if row[0] in {"A-1", "A-2"}} == {
        "A-1": None,
        "A-2": "A-1, B-1",
    }
