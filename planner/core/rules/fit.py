"""Rules about the equipment: nodes, box, functions."""

from collections.abc import Iterator
from dataclasses import replace

from planner.core.findings import Finding, Outcome
from planner.core.rules.answers import asks, at_most, fails, passes, worst
from planner.core.rules.case import Case, Member
from planner.core.rules.columns import known
from planner.core.rules.things import no_limit, no_row, speaking


def judge_nodes(case: Case) -> Finding:
    """Tell whether the bus takes so many nodes and unit loads."""
    row = case.row
    if row is None:
        return no_row("nodes", case)
    found = []
    if row.most_nodes is not None:
        limits = (float(speaking(case)), float(row.most_nodes))
        found.append(at_most("nodes", "Nodes:", limits, "", case.brief.reserve_pct, row.source))
    if row.most_unit_loads is not None:
        found.append(_unit_loads(case, row.most_unit_loads))
    return worst(found) if found else no_limit("nodes", case, "Most nodes")


def _unit_loads(case: Case, most: float) -> Finding:
    assert case.row is not None  # noqa: S101 - the caller looked
    loads = [None if member.model is None else known(member.model.unit_loads) for member in case.members]
    missing = [member.asked("Unit loads") for member, load in zip(case.members, loads, strict=True) if load is None]
    total = round(sum(load for load in loads if load is not None), 6)
    return at_most("nodes", "Unit loads:", (total, most), "", case.brief.reserve_pct, case.row.source, missing)


def opening_gangs(member: Member) -> int | None:
    """Return how wide the old opening is: what its row says, and never less than what sits in it needs."""
    known_gangs = [
        gangs for gangs in (member.box_gangs, member.now.box_gangs if member.now else None) if gangs is not None
    ]
    return max(known_gangs) if known_gangs else None


def _new_model(member: Member) -> str:
    """Return the name of the model that is put in at an old station."""
    if member.model is not None:
        return member.model.key
    return "the new station" if member.method is None else member.method.new_model


def judge_box(case: Case) -> Finding:
    """Tell whether each old opening takes the new station, or an adapter helps."""
    found = [_fits_box(case, member) for member in case.old]
    return _joined("box", found, "Every opening takes the new station.")


def _fits_box(case: Case, member: Member) -> Finding:
    needed = None if member.model is None else member.model.box_gangs
    opening = opening_gangs(member)
    new = _new_model(member)
    source = f"models: {new}"
    if needed is None:
        return asks("box", f"The box that {new} needs is not known.", (member.asked("Box gangs"),), source)
    if opening is None:
        return asks("box", f"The opening at {member.key} is not known.", (f"Box gangs at {member.key}",), source)
    adapter = "box adapter" in case.extras and member.method is not None and "box adapter" in member.method.extras
    if needed > opening and not adapter:
        return _too_much(
            "box",
            f"{new} needs {needed} gangs, the opening at {member.key} has {opening}.",
            needed,
            opening,
            "gangs",
            source,
        )
    said = " with an adapter" if needed > opening else ""
    finding = passes("box", f"The opening at {member.key} takes {new}{said}.", source)
    return (
        _wider_than_recorded(member, finding)
        if member.box_gangs is not None and member.box_gangs < opening
        else finding
    )


def _wider_than_recorded(member: Member, finding: Finding) -> Finding:
    """Call a pass close where the opening is recorded as too narrow for what sits in it: one of the two is wrong."""
    now = "" if member.now is None else member.now.key
    why = f"{finding.why} Look before: it is recorded as {member.box_gangs} gang wide, and {now}, which sits in it, is wider."
    return replace(finding, outcome=Outcome.CLOSE, why=why)


def _more_than_it_has(member: Member, what: str, finding: Finding) -> Finding:
    """Call a pass close where more is recorded in use than the old model has: one of the two is wrong."""
    now = "" if member.now is None else member.now.key
    why = f"{finding.why} Look before: more {what} are recorded in use than {now} has."
    return replace(finding, outcome=Outcome.CLOSE, why=why)


def _too_much(  # noqa: PLR0917 - one argument a fact of the finding
    rule: str, why: str, measured: float, limit: float, unit: str, source: str
) -> Finding:
    return Finding(
        rule=rule,
        outcome=Outcome.FAIL,
        why=why,
        measured=float(measured),
        limit=float(limit),
        unit=unit,
        margin=float(limit - measured),
        source=source,
    )


def _joined(rule: str, found: list[Finding], good: str) -> Finding:
    """Return one finding for all stations: the worst, with everything that is missing."""
    if not found or all(one.outcome is Outcome.PASS for one in found):
        return passes(rule, good if len(found) != 1 else found[0].why, found[0].source if found else None)
    failing = [one for one in found if one.outcome is Outcome.FAIL]
    if failing:
        return max(failing, key=lambda one: -(one.margin or 0.0))
    near = [one for one in found if one.outcome is Outcome.CLOSE]
    if not any(one.outcome is Outcome.UNKNOWN for one in found):
        return replace(near[0], why=" ".join(one.why for one in near[:3]))
    missing = [fact for one in found for fact in one.missing]
    open_ones = [one.why for one in found if one.outcome is Outcome.UNKNOWN]
    return asks(rule, " ".join(open_ones[:3]), missing, found[0].source)


def judge_functions(case: Case) -> Finding:
    """Tell whether the new stations speak the new protocol, and zones and scenes in use fit them."""
    found = [one for member in case.old for one in (_speaks(case, member), *_fits_functions(member))]
    return _joined("functions", found, "Zones and scenes in use fit the new stations.")


def _speaks(case: Case, member: Member) -> Finding:
    new, model = case.option.new_protocol, member.model
    if model is None or (model.protocol is None and model.protocol_2 is None):
        why = f"Whether {_new_model(member)}, put in at {member.key}, speaks {new} is not known."
        return asks("functions", why, (member.asked("Protocol"),))
    if not model.speaks(new):
        return fails("functions", f"{model.key}, put in at {member.key}, does not speak {new}.", f"models: {model.key}")
    return passes("functions", f"{model.key} speaks {new}.", f"models: {model.key}")


def _fits_functions(member: Member) -> Iterator[Finding]:
    for what, used, rows in (
        ("zones", member.zones_used, member.zone_rows),
        ("scenes", member.scenes_used, member.scene_rows),
    ):
        now = None if member.now is None else getattr(member.now, what)
        new = None if member.model is None else getattr(member.model, what)
        yield _fits(member, what, (used, now, rows), new)


def _fits(member: Member, what: str, use: tuple[int | None, int | None, int], new: int | None) -> Finding:
    """Judge one kind of function; nobody uses more than the old model has, nor less than is written down."""
    used, has, rows = use
    stated = [count for count in (used, has) if count is not None]
    most = max(min(stated), rows) if stated else None
    name = _new_model(member)
    source = f"models: {name}"
    if new is None:
        return asks("functions", f"How many {what} {name} has is not known.", (member.asked(what.title()),), source)
    if most is not None and most <= new:
        finding = passes("functions", f"{member.key}: {most} {what} at most, {name} has {new}.", source)
        return (
            _more_than_it_has(member, what, finding) if used is not None and has is not None and used > has else finding
        )
    if used is None and rows <= new:
        missing = (f"{what.title()} used at {member.key}",)
        return asks("functions", f"How many {what} are in use at {member.key} is not known.", missing, source)
    needed = rows if used is None else (most or rows)
    return _too_much("functions", f"{member.key} uses {needed} {what}, {name} has {new}.", needed, new, what, source)
