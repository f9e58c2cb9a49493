"""The brief: all that the planner decides beforehand. SETTINGS is the one table of it.

The workbook's sheet Brief, the form on the site, the help page and the record `Brief` all go by SETTINGS.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from planner.core.brief_families import Family


class SettingKind(StrEnum):
    """What a setting holds."""

    MINUTES = "minutes"
    CLOCK = "time of day"
    DATE = "day"
    NUMBER = "number"
    WHOLE = "whole number"
    MONEY = "money"
    TEXT = "text"
    LIST = "list"
    YES_NO = "yes or no"
    CHOICE = "one of a list"


@dataclass(frozen=True, slots=True, kw_only=True)
class Brief:
    """Settings of one plan, with their defaults. Units stand in the names; clocks are local minutes of the day."""

    work_from_min: int = 18 * 60
    work_to_min: int = 7 * 60
    work_days: tuple[int, ...] = (0, 1, 2, 3, 4, 5, 6)
    work_on_holidays: bool = True
    longest_outage_min: int = 480
    setup_min: int = 20
    restore_min: int = 15
    travel_same_district_min: int = 10
    travel_between_districts_min: int = 30
    conductor_c: float = 50.0
    reserve_pct: float = 10.0
    supply_reserve_pct: float = 20.0
    doubt_reach: str = "building"
    receiving_reserve_days: int = 3
    spare_floor: int = 0
    scrapped_pct: float = 20.0
    log_starts: date | None = None
    labour_rate: Decimal = Decimal("45.00")
    outage_rate: Decimal = Decimal("0.00")
    call_out: Decimal = Decimal("0.00")
    pull_rate: Decimal = Decimal("25.00")
    move_rate: Decimal = Decimal("180.00")
    move_min: int = 30
    pull_min_per_m: float = 2.0
    pull_people: int = 2
    change_over_min: int = 20
    extra_min: int = 15
    currency: str = "EUR"
    forbidden_methods: tuple[str, ...] = ()
    preferred_methods: tuple[str, ...] = ()
    shortest_pct: int = 80
    longest_pct: int = 150
    booked_may_move: bool = False
    notice_days: int = 7
    weight_benefit: int = 100
    weight_sooner: int = 10
    weight_nights: int = 1
    weight_moves: int = 5
    weight_booked: int = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One row of the table: `name` is the field of Brief, `title` what people write on the sheet Brief, `family` where it stands on a page."""

    name: str
    family: Family
    title: str
    kind: SettingKind
    unit: str | None
    meaning: str
    lowest: float | None = None
    highest: float | None = None
    choices: tuple[str, ...] = ()


_F, _K = Family, SettingKind
SETTINGS: tuple[Setting, ...] = (
    Setting(
        name="work_from_min",
        family=_F.HOURS,
        title="Work from",
        kind=_K.CLOCK,
        unit=None,
        meaning="Earliest time of day at which crews may start, local time",
    ),
    Setting(
        name="work_to_min",
        family=_F.HOURS,
        title="Work to",
        kind=_K.CLOCK,
        unit=None,
        meaning="Time of day by which rooms must be back; at or before the start means the next day",
    ),
    Setting(
        name="work_days",
        family=_F.HOURS,
        title="Work days",
        kind=_K.LIST,
        unit=None,
        meaning="Days on which work may start",
        choices=("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"),
    ),
    Setting(
        name="work_on_holidays",
        family=_F.HOURS,
        title="Work on holidays",
        kind=_K.YES_NO,
        unit=None,
        meaning="Whether nights that start on a public holiday may be used",
    ),
    Setting(
        name="longest_outage_min",
        family=_F.OUTAGES,
        title="Longest outage",
        kind=_K.MINUTES,
        unit="min",
        meaning="Longest time a room may be dark in one night",
        lowest=1,
        highest=2880,
    ),
    Setting(
        name="setup_min",
        family=_F.OUTAGES,
        title="Setting up",
        kind=_K.MINUTES,
        unit="min",
        meaning="Time on site before rooms go dark",
        lowest=0,
        highest=480,
    ),
    Setting(
        name="restore_min",
        family=_F.OUTAGES,
        title="Restoring",
        kind=_K.MINUTES,
        unit="min",
        meaning="Time on site after rooms are back",
        lowest=0,
        highest=480,
    ),
    Setting(
        name="travel_same_district_min",
        family=_F.OUTAGES,
        title="Travel within a district",
        kind=_K.MINUTES,
        unit="min",
        meaning="Time between two buildings of one district",
        lowest=0,
        highest=480,
    ),
    Setting(
        name="travel_between_districts_min",
        family=_F.OUTAGES,
        title="Travel between districts",
        kind=_K.MINUTES,
        unit="min",
        meaning="Time between buildings of different districts",
        lowest=0,
        highest=480,
    ),
    Setting(
        name="conductor_c",
        family=_F.CARE,
        title="Conductor temperature",
        kind=_K.NUMBER,
        unit="C",
        meaning="Hottest conductor to reckon with",
        lowest=-40,
        highest=90,
    ),
    Setting(
        name="reserve_pct",
        family=_F.CARE,
        title="Reserve",
        kind=_K.NUMBER,
        unit="%",
        meaning="A rule that passes with less than this left is called close",
        lowest=0,
        highest=90,
    ),
    Setting(
        name="supply_reserve_pct",
        family=_F.CARE,
        title="Supply reserve",
        kind=_K.NUMBER,
        unit="%",
        meaning="Part of a supply's rating to keep free",
        lowest=0,
        highest=90,
    ),
    Setting(
        name="doubt_reach",
        family=_F.CARE,
        title="Doubt reach",
        kind=_K.CHOICE,
        unit=None,
        meaning="How far around a node of unknown bus its doubt reaches",
        choices=("room", "floor", "building"),
    ),
    Setting(
        name="receiving_reserve_days",
        family=_F.STOCK,
        title="Receiving reserve",
        kind=_K.WHOLE,
        unit="working days",
        meaning="Time between delivery and first use",
        lowest=0,
        highest=120,
    ),
    Setting(
        name="spare_floor",
        family=_F.STOCK,
        title="Spare floor",
        kind=_K.WHOLE,
        unit="units",
        meaning="Least spares of each old model that must stay on the shelf, failures to expect until then counted",
        lowest=0,
        highest=10000,
    ),
    Setting(
        name="scrapped_pct",
        family=_F.STOCK,
        title="Scrapped share",
        kind=_K.NUMBER,
        unit="%",
        meaning="Part of the stations taken down that are no use as spares (common practice, no measured rate)",
        lowest=0,
        highest=100,
    ),
    Setting(
        name="log_starts",
        family=_F.STOCK,
        title="Failures logged from",
        kind=_K.DATE,
        unit=None,
        meaning="First day from which every failure is on record; blank means the day of the first one on record",
    ),
    Setting(
        name="labour_rate",
        family=_F.MONEY,
        title="Labour rate",
        kind=_K.MONEY,
        unit="per person and hour",
        meaning="Price of one hour of one person",
        lowest=0,
    ),
    Setting(
        name="outage_rate",
        family=_F.MONEY,
        title="Outage rate",
        kind=_K.MONEY,
        unit="per room and hour",
        meaning="What an hour of a dark room costs",
        lowest=0,
    ),
    Setting(
        name="call_out",
        family=_F.MONEY,
        title="Call-out",
        kind=_K.MONEY,
        unit="per order",
        meaning="Price of sending a crew at all",
        lowest=0,
    ),
    Setting(
        name="pull_rate",
        family=_F.CHANGES,
        title="Pulling cable",
        kind=_K.MONEY,
        unit="per metre",
        meaning="Price of pulling one metre of new cable and making good, without the cable itself",
        lowest=0,
    ),
    Setting(
        name="move_rate",
        family=_F.CHANGES,
        title="Moving a node",
        kind=_K.MONEY,
        unit="per node",
        meaning="Price of moving one node to another segment, its new connection included",
        lowest=0,
    ),
    # The minutes of changes are common practice, with no source; a campus writes down its own.
    Setting(
        name="move_min",
        family=_F.CHANGES,
        title="Time of a move",
        kind=_K.MINUTES,
        unit="min",
        meaning="Time in the outage to move one node to another segment",
        lowest=0,
        highest=480,
    ),
    Setting(
        name="pull_min_per_m",
        family=_F.CHANGES,
        title="Time of pulling",
        kind=_K.NUMBER,
        unit="min per metre",
        meaning="Time on site, before the outage, to pull one metre of new cable beside the old",
        lowest=0,
        highest=60,
    ),
    Setting(
        name="pull_people",
        family=_F.CHANGES,
        title="People who pull",
        kind=_K.WHOLE,
        unit="people",
        meaning="People it takes to pull cable",
        lowest=1,
        highest=20,
    ),
    Setting(
        name="change_over_min",
        family=_F.CHANGES,
        title="Time of a change-over",
        kind=_K.MINUTES,
        unit="min",
        meaning="Time in the outage to change one run over to its new cable, or to cap one that is left out",
        lowest=0,
        highest=480,
    ),
    Setting(
        name="extra_min",
        family=_F.CHANGES,
        title="Time of an extra",
        kind=_K.MINUTES,
        unit="min",
        meaning="Time in the outage to fit one end resistor, supply or box adapter",
        lowest=0,
        highest=480,
    ),
    Setting(
        name="currency",
        family=_F.MONEY,
        title="Currency",
        kind=_K.TEXT,
        unit=None,
        meaning="ISO 4217 code of the rates and budgets",
    ),
    Setting(
        name="forbidden_methods",
        family=_F.METHODS,
        title="Forbidden methods",
        kind=_K.LIST,
        unit=None,
        meaning="Methods not to be used",
    ),
    Setting(
        name="preferred_methods",
        family=_F.METHODS,
        title="Preferred methods",
        kind=_K.LIST,
        unit=None,
        meaning="Methods to take before cheaper ones",
    ),
    Setting(
        name="shortest_pct",
        family=_F.SPREAD,
        title="Shortest time",
        kind=_K.WHOLE,
        unit="%",
        meaning="Least time of a step that gives none, as a part of its minutes (common practice)",
        lowest=0,
        highest=100,
    ),
    Setting(
        name="longest_pct",
        family=_F.SPREAD,
        title="Longest time",
        kind=_K.WHOLE,
        unit="%",
        meaning="Most time of a step that gives none, as a part of its minutes (common practice)",
        lowest=100,
        highest=1000,
    ),
    Setting(
        name="booked_may_move",
        family=_F.BOOKED,
        title="Booked may move",
        kind=_K.YES_NO,
        unit=None,
        meaning="Whether booked orders may be moved by a new plan",
    ),
    Setting(
        name="notice_days",
        family=_F.BOOKED,
        title="Notice",
        kind=_K.WHOLE,
        unit="days",
        meaning="Days between telling the rooms of a booked order that it moves, and the night they must keep or give up",
        lowest=0,
        highest=365,
    ),
    Setting(
        name="weight_benefit",
        family=_F.WEIGHTS,
        title="Weight of benefit",
        kind=_K.WHOLE,
        unit=None,
        meaning="What leaving benefit unconverted weighs",
        lowest=0,
        highest=1000,
    ),
    Setting(
        name="weight_sooner",
        family=_F.WEIGHTS,
        title="Weight of sooner",
        kind=_K.WHOLE,
        unit=None,
        meaning="What each day of waiting weighs",
        lowest=0,
        highest=1000,
    ),
    Setting(
        name="weight_nights",
        family=_F.WEIGHTS,
        title="Weight of nights",
        kind=_K.WHOLE,
        unit=None,
        meaning="What each night with a crew out weighs",
        lowest=0,
        highest=1000,
    ),
    Setting(
        name="weight_moves",
        family=_F.WEIGHTS,
        title="Weight of moves",
        kind=_K.WHOLE,
        unit=None,
        meaning="What moving an order of the last plan weighs",
        lowest=0,
        highest=1000,
    ),
    Setting(
        name="weight_booked",
        family=_F.WEIGHTS,
        title="Weight of booked moves",
        kind=_K.WHOLE,
        unit=None,
        meaning="What moving a booked order weighs, where booked orders may move",
        lowest=0,
        highest=1000,
    ),
)
BY_TITLE = {setting.title.casefold(): setting for setting in SETTINGS}


class BriefError(ValueError):
    """A setting that cannot be read; `setting` is its title, `value` what was seen."""

    def __init__(self, setting: str, value: str, remedy: str) -> None:
        super().__init__(f"{setting}: {value!r} cannot be used. {remedy}")
        self.setting, self.value, self.remedy = setting, value, remedy
