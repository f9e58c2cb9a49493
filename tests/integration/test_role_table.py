"""Who may go where: the whole table, written down once more beside the code, held against every address for every role.

An address without a line here fails, and so does one that lets in more or fewer people than its line says.
"""

from collections.abc import Iterator

import pytest
from django.urls import URLPattern

from inventory.core.roles import Role
from tests.bad_input import patterns, stored
from tests.integration.test_site_access import address
from tests.site_campus import someone

pytestmark = [pytest.mark.django_db, pytest.mark.on_any_database]

FACILITIES, PLANNING, PURCHASING, CREW = Role.FACILITIES, Role.PLANNING, Role.PURCHASING, Role.CREW

OPEN = "sign-in sign-out feed"  # to people who are not signed in; a feed has a secret in its address
LINES: tuple[tuple[str, set[Role]], ...] = (
    (
        (
            "password campus first ageing building room stations station segments segment segment-drawing survey survey-workbook survey-sheets "
            "taken-ways orders plan-orders order order-work work-offline order-pack plan-packs plan-notices "
            "feeds feed-open feed-end photograph materials material materials-workbook job job-state job-stop job-again job-file "
            "records search words sources workbook workbook-blank workbook-filled"
        ),
        set(Role),
    ),
    ("plans plan plan-compare plan-spares plan-how-sure order-choices", set(Role) - {CREW}),
    ("report-failure segment-read", {FACILITIES, PLANNING, CREW}),
    ("crew-people crew-people-keep", {FACILITIES, PLANNING}),
    ("assess way-out order-mended", {FACILITIES, PLANNING}),
    (
        (
            "way-out-take way-out-give-up take-below brief order-choice-keep order-choice-drop scenario scenario-copy scenario-keep "
            "plan-again order-move order-put-off order-after sequence-drop plan-adopt plan-handover"
        ),
        {PLANNING},
    ),
    ("order-entry", {PLANNING, CREW}),
    ("material-ordered material-delivered material-expected materials-counted", {PURCHASING}),
    ("intake intake-calendars intake-job intake-take intake-back intake-marked audit", {FACILITIES}),
)
SHEETS: tuple[tuple[str, Role], ...] = (  # whose records; everybody sees them, one role changes them
    ("buildings rooms protocols cables models buses nodes runs zones scenes failures", FACILITIES),
    ("methods method-parts method-steps method-pins crews phases closures", PLANNING),
    ("parts deliveries spares", PURCHASING),
)


def _table() -> Iterator[tuple[str, set[Role]]]:
    for names, roles in LINES:
        yield from ((name, roles) for name in names.split())
    for names, role in SHEETS:
        for name in names.split():
            yield from ((f"{name}-{page}", set(Role)) for page in ("records", "record"))
            yield from ((f"{name}-{page}", {role}) for page in ("new", "change", "remove", "bulk"))


TABLE = dict(_table())


def closed() -> list[URLPattern]:
    return [one for one in patterns() if one.name not in OPEN.split()]


def test_every_address_has_its_line_and_every_line_its_address() -> None:
    assert {one.name for one in closed()} == set(TABLE)


@pytest.mark.parametrize("role", [*Role, None])
def test_every_role_gets_in_where_its_lines_say_and_nowhere_else(role: Role | None) -> None:
    client = someone(role)
    before = stored()
    let_in, kept_out = set(), set()
    for pattern in closed():
        may = role in TABLE[pattern.name or ""]
        statuses = {client.get(address(pattern)).status_code}
        if not may:
            statuses.add(client.post(address(pattern)).status_code)
        (kept_out if statuses == {403} else let_in).add(pattern.name)
    assert let_in == {name for name, roles in TABLE.items() if role in roles}
    assert stored() == before
