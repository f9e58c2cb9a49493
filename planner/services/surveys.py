"""The survey: what to ask on site, as a walk, and as a workbook that comes back through intake."""

from dataclasses import dataclass

from inventory.workbook.columns import Sheet, text_column, whole_column
from inventory.workbook.read import SURVEY_TITLE
from inventory.workbook.rows import SheetRows
from inventory.workbook.sheets import SHEETS
from inventory.workbook.write import write_filled
from planner.core.survey_sheets import Page, pages
from planner.core.surveys import Asked, Register, Spot, Stop, ranked_questions, walk
from planner.models import Assessment
from planner.store.surveys import load_register, rows_asked, waiting_reports
from planner.store.verdicts import current_assessment

QUESTIONS = Sheet(
    code="survey",
    title=SURVEY_TITLE,
    meaning="What to find out, room by room. Nothing is read from here: answers go on the other sheets.",
    key=("question",),
    columns=(
        whole_column("rank", "Rank", "1 is asked first: the order in which answers settle the most stations", "1"),
        text_column("building", "Building", "Building to go to", "B04"),
        text_column("floor", "Floor", "Floor to go to", "1"),
        text_column("room", "Room", "Room to go to", "1.07"),
        text_column("question", "Question", "What to find out on site", "Length of run B04-R113?", required=True),
        text_column("rows", "Write it on", "Sheets and rows to fill in", "Runs: B04-R113"),
        whole_column("stations", "Stations", "Old stations that wait for the answer", "3"),
        text_column("segments", "Segments", "Segments that wait for the answer", "B04-L07"),
    ),
)
ROWS_NAMED = 12  # more rows than this for one question are counted, not named
TITLES = {sheet.code: sheet.title for sheet in SHEETS}


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """All open questions: ranked, as a walk, and how many segments were left out because there are too many.

    `register` says where what they name is.
    """

    assessment: Assessment | None
    asked: tuple[Asked, ...]
    stops: tuple[Stop, ...]
    left_out: int
    register: Register

    @property
    def stations(self) -> int:
        """Return how many old stations the answers settle, all of them together."""
        return max((one.settled for one in self.asked), default=0)

    @property
    def pages(self) -> tuple[Page, ...]:
        """Return the walk as sheets of paper."""
        return pages(self.stops, self.register)

    @property
    def buildings(self) -> tuple[str, ...]:
        """Return the buildings of the walk."""
        return tuple(sorted({stop.spot.building for stop in self.stops if stop.spot.building}))


def make_survey(building: str | None = None) -> Survey:
    """Return the survey of the campus as last assessed, or of one building of it; ranks are those of the campus."""
    assessment = current_assessment()
    reports, left_out = waiting_reports(assessment)
    register = load_register(reports)
    asked = ranked_questions(register, reports)
    chosen = tuple(one for one in asked if building is None or one.spot.building == building)
    return Survey(assessment=assessment, asked=chosen, stops=walk(chosen), left_out=left_out, register=register)


def survey_workbook(survey: Survey) -> bytes:
    """Return the inventory workbook with just the rows asked about, and the questions on a sheet of their own."""
    rows = rows_asked(survey.asked)
    sheets = tuple(sheet for sheet in SHEETS if sheet.code in rows)
    return write_filled({QUESTIONS.code: _questions(survey), **rows}, (QUESTIONS, *sheets))


def _questions(survey: Survey) -> SheetRows:
    asked = [one for stop in survey.stops for one in stop.asked]
    columns: dict[str, list[object]] = {
        "rank": [one.rank for one in asked],
        "building": [one.spot.building or None for one in asked],
        "floor": [one.spot.floor or None for one in asked],
        "room": [one.spot.room or None for one in asked],
        "question": [one.question for one in asked],
        "rows": [rows_in_words(one) for one in asked],
        "stations": [one.stations for one in asked],
        "segments": [", ".join(one.segments) for one in asked],
    }
    return SheetRows(sheet=QUESTIONS, numbers=list(range(2, 2 + len(asked))), columns=columns)


def rows_in_words(asked: Asked, most: int = ROWS_NAMED) -> str:
    """Return the rows that a question is answered on, by sheet; more than `most` of one sheet are counted."""
    by_sheet: dict[str, list[str]] = {}
    for code, key in asked.rows:
        by_sheet.setdefault(TITLES[code], []).append(key)
    return "; ".join(
        f"{title}: {', '.join(keys) if len(keys) <= most else f'{len(keys)} rows'}" for title, keys in by_sheet.items()
    )


def spot_in_words(spot: Spot) -> str:
    """Return where a question is asked."""
    if not spot.room:
        return f"{spot.building}, room not known" if spot.building else "building not known"
    return f"{spot.building} {spot.room}" + (f", floor {spot.floor}" if spot.floor else "")
