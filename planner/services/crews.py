"""Who is on which crew. Crews are named as on the sheet Crews; people are users with the role crew."""

from collections.abc import Collection, Iterable

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from inventory.core.roles import Role
from inventory.store.targets import By
from planner.models import Crew, CrewMember, Order
from planner.services.standing import current_plan


class ChangedMeanwhile(ValueError):  # noqa: N818 - says what is the matter
    """Somebody else has put the person on other crews since the page was shown."""


def crews_of(person: User | None) -> tuple[str, ...]:
    """Return the names of the crews that a person is on."""
    if person is None:
        return ()
    return tuple(_now_on(person).order_by("crew").values_list("crew", flat=True))


def known_crews() -> tuple[str, ...]:
    """Return the names of the crews on record, and of those that work in the current plan."""
    at_work = Order.objects.filter(plan=current_plan(), crew__isnull=False).order_by().values_list("crew", flat=True)
    return tuple(sorted({*Crew.objects.order_by().values_list("key", flat=True), *(crew for crew in at_work if crew)}))


def crew_people() -> list[tuple[User, tuple[str, ...]]]:
    """Return everybody with the role crew who may sign in, with the crews they are on."""
    people = User.objects.filter(groups__name=Role.CREW.value, is_active=True).order_by("username")
    on: dict[int, list[str]] = {}
    for who, crew in (
        CrewMember.objects.filter(member__in=people, until=None).order_by("crew").values_list("member", "crew")
    ):
        on.setdefault(who, []).append(crew)
    return [(person, tuple(on.get(person.pk, ()))) for person in people]


@transaction.atomic
def put_on_crews(person: User, crews: Iterable[str], *, by: By, seen: Collection[str] | None = None) -> None:
    """Put a person on these crews and no others; `seen` are those that were shown when it was decided, None: whatever.

    Raises
    ------
    ChangedMeanwhile
        Where the person is on other crews than were shown; nothing has changed then.

    """
    person = User.objects.select_for_update().get(pk=person.pk)
    wanted, before = set(crews), set(crews_of(person))
    if seen is not None and set(seen) != before:
        if wanted == before:
            return  # the same form, sent twice
        raise ChangedMeanwhile(
            f"Somebody has changed this meanwhile: it is {', '.join(sorted(before)) or 'no crew'} now. Look, then keep it again."
        )
    now = timezone.now()
    _now_on(person).filter(crew__in=before - wanted).update(until=now, until_by=by)
    CrewMember.objects.bulk_create(
        CrewMember(member=person, crew=crew, since=now, by=by) for crew in sorted(wanted - before)
    )


def _now_on(person: User) -> QuerySet[CrewMember]:
    return CrewMember.objects.filter(member=person, until=None)
