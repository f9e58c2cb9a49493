"""A law: after any edits, the verdicts kept are those of an assessment from scratch, word for word."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

import pytest
from django.db import IntegrityError, models, transaction
from django.db.models import ProtectedError
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from inventory import models as tables
from inventory.store import load_snapshot
from planner.core.findings import SegmentReport
from planner.core.verdicts import assess
from planner.models import Segment
from planner.services import reassess
from planner.services.assess import assess_campus
from planner.services.words import load_reports
from planner.store.briefs import load_brief
from planner.store.verdicts import current_assessment
from tests.campus_tables import store
from tests.campuses import hand_campus, random_campus
from tests.laws.settings import LAW

pytestmark = pytest.mark.django_db
WHY = "a law tries it"


def kept() -> dict[str, SegmentReport]:
    """Return the reports as kept, but for the ways out, which are looked for by themselves."""
    assessment = current_assessment()
    assert assessment is not None
    return {one.segment: replace(one, way_out=None) for one in load_reports(assessment)}


def from_scratch() -> dict[str, SegmentReport]:
    return {one.segment: one for one in assess(load_snapshot(), load_brief())}


Edit = Callable[[st.DataObject, int], None]


def edited(row: models.Model, **facts: Any) -> None:
    def work() -> tuple[None, Sequence[models.Model]]:
        for name, value in facts.items():
            setattr(row, name, value)
        row.save()
        return None, [row]

    with refusals():
        reassess.change([type(row)._default_manager.get(pk=row.pk)], work, WHY, by=None)


def made(table: type[models.Model], /, **facts: Any) -> None:
    def work() -> tuple[None, Sequence[models.Model]]:
        return None, [table._default_manager.create(**facts)]

    with refusals():
        reassess.change([], work, WHY, by=None)


def removed(row: models.Model) -> None:
    def work() -> tuple[None, Sequence[models.Model]]:
        row.delete()
        return None, []

    with refusals():
        reassess.change([row], work, WHY, by=None)


@contextmanager
def refusals() -> Iterator[None]:
    """Let the database refuse what breaks its rules: then nothing has changed."""
    try:
        with transaction.atomic():
            yield
    except (IntegrityError, ProtectedError):
        pass


def one_of(data: st.DataObject, rows: "models.QuerySet[Any]") -> Any:
    found = list(rows.order_by("pk"))
    return data.draw(st.sampled_from(found)) if found else None


def maybe(data: st.DataObject, rows: "models.QuerySet[Any]") -> Any:
    return one_of(data, rows) if data.draw(st.booleans()) else None


def edit_run(data: st.DataObject, _: int) -> None:
    run = one_of(data, tables.Run.objects.all())
    if run is None:
        return
    fact, value = data.draw(
        st.sampled_from(
            (
                ("length_m", data.draw(st.sampled_from((None, 0.0, 5.0, 300.0, 2000.0)))),
                ("cable", maybe(data, tables.Cable.objects.all())),
                ("bus", one_of(data, tables.Bus.objects.all())),
                ("from_node", one_of(data, tables.Node.objects.all())),
                ("to_node", one_of(data, tables.Node.objects.all())),
            )
        )
    )
    edited(run, **{fact: value})


def edit_node(data: st.DataObject, _: int) -> None:
    node = one_of(data, tables.Node.objects.all())
    fact, value = data.draw(
        st.sampled_from(
            (
                ("model", one_of(data, tables.EquipmentModel.objects.all())),
                ("bus", maybe(data, tables.Bus.objects.all())),
                ("bus_2", maybe(data, tables.Bus.objects.all())),
                ("bus_3", maybe(data, tables.Bus.objects.all())),
                ("building", one_of(data, tables.Building.objects.all())),
                ("room", maybe(data, tables.Room.objects.all())),
                ("zones_used", data.draw(st.sampled_from((None, 1, 100)))),
                ("box_gangs", data.draw(st.sampled_from((None, 1, 2)))),
                ("ends_bus", data.draw(st.sampled_from((None, "yes", "no", "switch")))),
            )
        )
    )
    edited(node, **{fact: value})


def edit_bus(data: st.DataObject, _: int) -> None:
    bus = one_of(data, tables.Bus.objects.all())
    names = ("A-first", "zz-last", *tables.Node.objects.values_list("key", flat=True)[:3])
    fact, value = data.draw(
        st.sampled_from(
            (
                ("protocol", maybe(data, tables.Protocol.objects.filter(key__in=("CAMPUSNET", "OPENPAIR", "PAIRBUS")))),
                ("building", one_of(data, tables.Building.objects.all())),
                ("key", data.draw(st.sampled_from(names))),
            )
        )
    )
    edited(bus, **{fact: value})


def make_node(data: st.DataObject, number: int) -> None:
    building = one_of(data, tables.Building.objects.all())
    model = one_of(data, tables.EquipmentModel.objects.all())
    bus = maybe(data, tables.Bus.objects.all())
    made(tables.Node, key=f"N{number}", building=building, model=model, bus=bus)


def make_run(data: st.DataObject, number: int) -> None:
    ends = one_of(data, tables.Node.objects.all()), one_of(data, tables.Node.objects.all())
    bus = one_of(data, tables.Bus.objects.all())
    made(tables.Run, key=f"R{number}", bus=bus, from_node=ends[0], to_node=ends[1], length_m=12.0)


def make_bus(data: st.DataObject, number: int) -> None:
    names = (f"C{number}", *tables.Node.objects.filter(bus=None).values_list("key", flat=True)[:3])
    building = one_of(data, tables.Building.objects.all())
    made(tables.Bus, key=data.draw(st.sampled_from(names)), building=building)


def remove(data: st.DataObject, _: int) -> None:
    table = data.draw(
        st.sampled_from((tables.Run, tables.Run, tables.Node, tables.Bus, tables.Method, tables.MethodPart))
    )
    row = one_of(data, table._default_manager.all())
    if row is not None:
        removed(row)


def edit_catalogue(data: st.DataObject, _: int) -> None:
    table, fact, values = data.draw(
        st.sampled_from(
            (
                (tables.EquipmentModel, "draw_w", (None, 0.5, 30.0)),
                (tables.EquipmentModel, "kind", ("station", "gateway", "sensor")),
                (tables.EquipmentModel, "lowest_supply_v", (None, 5.0, 23.0)),
                (tables.EquipmentModel, "protocol_2", (None, *tables.Protocol.objects.filter(key="OPENPAIR"))),
                (tables.Method, "old_model", tuple(tables.EquipmentModel.objects.filter(kind="station"))),
                (tables.Method, "new_gateway_model", (None, *tables.EquipmentModel.objects.filter(kind="gateway"))),
                (tables.Method, "patch_lead_m", (None, 0.0, 40.0)),
                (tables.MethodPart, "when", ("always", "box adapter", "end resistor")),
                (tables.Cable, "power_conductor", (None, "14 AWG", "28 AWG")),
                (tables.Cable, "screened", (None, True, False)),
                (tables.Part, "price", (None, 1, 900)),
                (tables.ProtocolRate, "longest_bus_m", (None, 10.0, 1000.0)),
                (tables.ProtocolRate, "power_on_bus", (None, True, False)),
            )
        )
    )
    rows = table._default_manager.all()
    row = one_of(data, rows.filter(built_in=False) if table is tables.ProtocolRate else rows)
    if row is not None:
        edited(row, **{fact: data.draw(st.sampled_from(values or (None,)))})


EDITS: tuple[Edit, ...] = (
    edit_run, edit_node, edit_node, edit_bus, make_node, make_run, make_bus, remove, remove, edit_catalogue,
)  # fmt: skip


QUICK = settings(LAW, phases=[Phase.explicit, Phase.generate])  # a campus in tables is too slow to shrink


class TheLaw(TestCase):
    """Hypothesis gives each example a transaction of its own."""

    @QUICK
    @given(st.data())
    def test_after_any_edits_the_kept_verdicts_are_those_from_scratch(self, data: st.DataObject) -> None:
        seed = data.draw(st.integers(0, 10**6))
        by_hand, rogue = data.draw(st.booleans()), data.draw(st.booleans())
        store(hand_campus() if by_hand else random_campus(seed, data.draw(st.integers(8, 40)), rogue=rogue))
        assess_campus(by=None)
        for number in range(data.draw(st.integers(1, 6))):
            data.draw(st.sampled_from(EDITS))(data, number)
            assert kept() == from_scratch()
        assert sum((current_assessment() or None).counts.values()) == Segment.objects.count()  # type: ignore[union-attr]

    def test_a_signal_that_comes_to_land_on_the_screen_is_felt(self) -> None:
        store(hand_campus())
        assess_campus(by=None)
        method = tables.Method.objects.get(key="M-20")
        made(tables.MethodPin, method=method, signal="GND", old_conductor="screen", rj45_pin=3)
        assert kept() == from_scratch()
        assert Segment.objects.get(key="B1-L01").verdict == "survey first"
