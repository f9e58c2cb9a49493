"""Who may do what. CAN is the one table of it: views, pages and tests all go by it."""

from collections.abc import Iterable
from enum import StrEnum


class Role(StrEnum):
    """What a person is to the campus; each is a group of users of the same name."""

    FACILITIES = "facilities"
    PLANNING = "planning"
    PURCHASING = "purchasing"
    CREW = "crew"
    READER = "reader"


class Capability(StrEnum):
    """What a person may do, in words that finish the sentence `you may ...`."""

    SEE = "see the campus, its materials and its orders"
    PLANS = "see all plans and the orders of every crew"
    REPORT_FAILURE = "report a failure"
    MEASURE = "enter what was measured"
    TAKE_IN = "take in a workbook"
    RECORDS = "change the records of buildings, equipment and wiring"
    ASSESS = "have the campus assessed again"
    PLAN = "write briefs and make plans"
    ADOPT = "adopt a plan and book its orders"
    WORK = "carry out orders"
    MEND = "say what was done about an order that was backed out"
    CREWS = "say who is on which crew"
    STOCK = "change parts, stock and prices"
    AUDIT = "see who did what, and who signed in"


_R = Role
EVERYONE = frozenset(Role)

CAN: dict[Capability, frozenset[Role]] = {
    Capability.SEE: EVERYONE,
    Capability.PLANS: EVERYONE - {_R.CREW},
    Capability.REPORT_FAILURE: frozenset({_R.FACILITIES, _R.PLANNING, _R.CREW}),
    Capability.MEASURE: frozenset({_R.FACILITIES, _R.PLANNING, _R.CREW}),
    Capability.TAKE_IN: frozenset({_R.FACILITIES}),
    Capability.RECORDS: frozenset({_R.FACILITIES}),
    Capability.ASSESS: frozenset({_R.FACILITIES, _R.PLANNING}),
    Capability.PLAN: frozenset({_R.PLANNING}),
    Capability.ADOPT: frozenset({_R.PLANNING}),
    Capability.WORK: frozenset({_R.PLANNING, _R.CREW}),
    Capability.MEND: frozenset({_R.FACILITIES, _R.PLANNING}),
    Capability.CREWS: frozenset({_R.FACILITIES, _R.PLANNING}),
    Capability.STOCK: frozenset({_R.PURCHASING}),
    Capability.AUDIT: frozenset({_R.FACILITIES}),
}

OWN_ORDERS = frozenset({Role.CREW})  # what they may do to orders, they may do to those of their own crews alone

CHANGES: dict[str, Capability] = {  # sheet of the workbook -> what changing its records on a page takes
    "parts": Capability.STOCK,
    "spares": Capability.STOCK,
    "deliveries": Capability.STOCK,
    "methods": Capability.PLAN,
    "method_parts": Capability.PLAN,
    "method_steps": Capability.PLAN,
    "method_pins": Capability.PLAN,
    "crews": Capability.PLAN,
    "phases": Capability.PLAN,
    "closures": Capability.PLAN,
}


def changes(sheet: str) -> Capability:
    """Return what changing the records of a sheet takes.

    Examples
    --------
    >>> changes("parts").value, changes("runs").value
    ('change parts, stock and prices', 'change the records of buildings, equipment and wiring')

    """
    return CHANGES.get(sheet, Capability.RECORDS)


def allowed(roles: Iterable[str], capability: Capability) -> bool:
    """Tell whether someone with these roles may do it.

    Examples
    --------
    >>> allowed(["reader"], Capability.SEE), allowed(["reader"], Capability.TAKE_IN), allowed([], Capability.SEE)
    (True, False, False)

    """
    return not CAN[capability].isdisjoint(roles)


def any_order(roles: Iterable[str], capability: Capability) -> bool:
    """Tell whether someone with these roles may do it to every order, not only to those of their own crews.

    Examples
    --------
    >>> any_order(["reader"], Capability.SEE), any_order(["crew"], Capability.SEE), any_order(["crew", "reader"], Capability.WORK)
    (True, False, False)

    """
    return not (CAN[capability] - OWN_ORDERS).isdisjoint(roles)


def who_can(capability: Capability) -> tuple[Role, ...]:
    """Return the roles that may do it, in the order of the table of roles."""
    return tuple(role for role in Role if role in CAN[capability])
