"""RULES, the one table of rules: adding one is one row here and one function."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from planner.core.findings import Finding
from planner.core.rules.cabling import judge_cable
from planner.core.rules.case import Case
from planner.core.rules.feeding import judge_current, judge_one_source, judge_supply, judge_voltage
from planner.core.rules.fit import judge_box, judge_functions, judge_nodes
from planner.core.rules.membership import judge_alone, judge_gateway, judge_records
from planner.core.rules.wiring import judge_ends, judge_layout, judge_length, judge_stubs


class About(StrEnum):
    """What a rule is about, which decides what its failing means."""

    SHARERS = "sharers"  # fails: clear first
    RECORDS = "records"  # survey first
    WIRES = "wires"  # fails: new cable
    FIT = "fit"  # fails: other method


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule: the question it answers, the function that does, where its limit comes from, what may cure a fail.

    `cures` are extras in the order in which they are tried.
    """

    code: str
    question: str
    judge: Callable[[Case], Finding]
    limit_from: str
    about: About
    cures: tuple[str, ...] = ()


def _rule(  # noqa: PLR0917 - one row of the table
    code: str, question: str, judge: Callable[[Case], Finding], limit_from: str, about: About, *cures: str
) -> Rule:
    return Rule(code=code, question=question, judge=judge, limit_from=limit_from, about=about, cures=cures)


LOCAL, LARGER, END, BOX, RATE = "local supply", "larger supply", "end resistor", "box adapter", "lower bit rate"

RULES: tuple[Rule, ...] = (
    _rule("alone", "Does anything share the segment that must move?", judge_alone, "common practice", About.SHARERS),
    _rule("gateway", "Is there one gateway, and do its other segments survive?", judge_gateway, "method", About.FIT),
    _rule("records", "Do the records agree about the wiring?", judge_records, "common practice", About.RECORDS),
    _rule("layout", "Does the wiring have a layout the bus allows?", judge_layout, "protocol", About.WIRES),
    _rule("length", "Is the line short enough for its bit rate?", judge_length, "protocol", About.WIRES, RATE),
    _rule("stubs", "Are the branches short enough?", judge_stubs, "protocol", About.WIRES, RATE),
    _rule("nodes", "Does the bus take so many nodes and unit loads?", judge_nodes, "protocol", About.FIT, RATE),
    _rule("ends", "Is an end resistor at both ends, and nowhere else?", judge_ends, "protocol", About.FIT, END),
    _rule("cable", "Has every run the pairs the bus needs?", judge_cable, "protocol, cable", About.WIRES, LOCAL),
    _rule(
        "one source",
        "Does exactly one source feed the power pair?",
        judge_one_source,
        "common practice",
        About.FIT,
        LOCAL,
    ),
    _rule("voltage", "Does every load get its lowest supply voltage?", judge_voltage, "model", About.WIRES, LOCAL),
    _rule("supply", "Can the source feed draw and losses?", judge_supply, "model, code", About.FIT, LARGER, LOCAL),
    _rule("current", "Do conductors and contacts carry it?", judge_current, "cable, connector", About.WIRES, LOCAL),
    _rule("box", "Does the old opening take the new station?", judge_box, "models", About.FIT, BOX),
    _rule(
        "functions", "Does the new station speak the bus and do what is in use?", judge_functions, "models", About.FIT
    ),
)
BY_CODE = {rule.code: rule for rule in RULES}
