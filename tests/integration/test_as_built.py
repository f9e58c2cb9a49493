"""Records as built: what accepting an order changes, and what backing it out brings back."""

from dataclasses import replace

import pytest
from django.utils import timezone

from inventory.models import Bus, Cable, EquipmentModel, Node, Part, Run, Spare
from planner.core.plans import Order as OrderRecord
from planner.core.plans import OrderState
from planner.models import Rebuild, Segment, SegmentMember, StationRisk
from planner.services.as_built import put_back
from planner.services.work import WorkRefused
from planner.store.records import from_json, to_json
from tests.work import Site

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return Site()


def test_accepting_changes_the_records_to_what_was_built(site: Site) -> None:
    site.all_ticked()
    site.enter("serial", site.station, "70-4711")
    site.enter("accept")
    station = Node.objects.select_related("model").get(key=site.station)
    assert (station.model.key, station.serial, station.condition) == ("WS-70", "70-4711", 1)
    assert station.installed == timezone.localdate()
    assert "order B1-O1, method M-9 with box adapter" in (station.note or "")
    assert Bus.objects.select_related("protocol").get(key="B1-L0").protocol.key == "NEWPAIR"  # type: ignore[union-attr]
    assert Part.objects.get(key="P-1001").on_hand == 4, "ten on hand less the six of the order"
    assert Spare.objects.get(model__key="WS-10").on_hand == 5, "the old station is a spare now"
    assert station.history.first().history_user == site.people["crew"]  # type: ignore[attr-defined]
    assert site.state == OrderState.ACCEPTED


def test_an_order_backed_out_after_acceptance_restores_the_records_and_says_what_it_leaves(site: Site) -> None:
    before = Node.objects.values("model", "installed", "serial", "condition", "note").get(key=site.station)
    site.all_ticked()
    site.enter("accept")
    Node.objects.filter(key=site.station).update(serial="typed by hand since")
    Part.objects.filter(key="P-1001").update(on_hand=3)
    site.enter("back out", text="sliders react late")
    after = Node.objects.values("model", "installed", "serial", "condition", "note").get(key=site.station)
    assert after == {**before, "serial": "typed by hand since"}
    assert Part.objects.get(key="P-1001").on_hand == 9, "six came back to the three that were left"
    assert Spare.objects.get(model__key="WS-10").on_hand == 4
    assert Rebuild.objects.get().undone is not None
    assert site.state == OrderState.BACKED_OUT
    assert site.order.events.first().why == "sliders react late"  # type: ignore[union-attr]


def test_a_new_station_has_not_the_risk_of_the_old_one(site: Site) -> None:
    station = Node.objects.get(key=site.station)
    other = Node.objects.exclude(pk=station.pk).earliest("pk")
    StationRisk.objects.all().delete()
    for node in (station, other):
        StationRisk.objects.create(node=node, age_years=14.6, chance=0.025, importance=3, days_without=5, score=0.4)
    site.all_ticked()
    site.enter("accept")
    assert [risk.node for risk in StationRisk.objects.all()] == [other]


WIRING = ("key", "bus__key", "from_node__key", "to_node__key", "cable__key", "length_m")


def wiring() -> list[tuple[object, ...]]:
    return list(Run.objects.order_by("key").values_list(*WIRING))


def wired(site: Site, **change: object) -> None:
    """Give the segment of the order a junction between gateway and station, and a change of its wiring to the order."""
    bus, gateway = Bus.objects.get(key="B1-L0"), Node.objects.get(key="B1-L0-G")
    box = EquipmentModel.objects.create(key="JB-1", kind="junction")
    junction = Node.objects.create(key="B1-J1", building=bus.building, bus=bus, model=box)
    cable = Cable.objects.create(key="4x0.75")
    SegmentMember.objects.create(segment=Segment.objects.get(key="B1-L0"), node=junction)
    for key, tail, head in (("B1-R1", gateway, junction), ("B1-R2", junction, Node.objects.get(key=site.station))):
        Run.objects.create(key=key, bus=bus, from_node=tail, to_node=head, cable=cable, length_m=12.5)
    record = from_json(OrderRecord, site.order.data)
    conversion = replace(record.conversions[0], **change)  # type: ignore[arg-type]
    site.order.data = to_json(replace(record, conversions=(conversion,)))
    site.order.save(update_fields=["data"])


def test_a_new_line_is_on_record_once_it_is_accepted_and_the_old_runs_are_back_once_it_is_backed_out(
    site: Site,
) -> None:
    wired(site, line=(("B1-L0-G", site.station, 21.0),), line_cable="4x0.75")
    before, junctions = wiring(), list(Node.objects.filter(key="B1-J1").values())
    site.all_ticked()
    site.enter("accept")
    assert wiring() == [("B1-O1-B1-L0-01", "B1-L0", "B1-L0-G", site.station, "4x0.75", 21.0)]
    assert not Node.objects.filter(key="B1-J1").exists(), "no run reaches the junction any more"
    assert Run.history.filter(key="B1-R1", history_type="-").exists()  # type: ignore[attr-defined]
    site.enter("back out", text="the new line is too short")
    assert wiring() == before
    assert list(Node.objects.filter(key="B1-J1").values()) == junctions
    assert not put_back(site.order, by=site.people["planning"]).kept, "twice puts nothing back"


def test_runs_are_joined_where_a_node_moved_away_and_end_at_it_again_once_backed_out(site: Site) -> None:
    wired(site, moved=(("B1-J1", "B1-L1"),))
    before = wiring()
    site.all_ticked()
    site.enter("accept")
    assert wiring() == [("B1-R1", "B1-L0", "B1-L0-G", site.station, "4x0.75", 25.0)]
    assert Node.objects.get(key="B1-J1").bus == Bus.objects.get(key="B1-L1")
    site.enter("back out", text="no room on the other line")
    assert wiring() == before
    assert Node.objects.get(key="B1-J1").bus == Bus.objects.get(key="B1-L0")


def test_what_somebody_changed_of_a_new_line_stays_and_is_told(site: Site) -> None:
    wired(site, line=(("B1-L0-G", site.station, 21.0),), line_cable="4x0.75")
    site.all_ticked()
    site.enter("accept")
    Run.objects.filter(key="B1-O1-B1-L0-01").update(length_m=23.0)
    kept = put_back(site.order, by=site.people["planning"]).kept
    assert kept == ("B1-O1-B1-L0-01 (changed since it was put in)",)
    assert {row[0] for row in wiring()} == {"B1-O1-B1-L0-01", "B1-R1", "B1-R2"}


def test_backing_out_before_acceptance_changes_no_record(site: Site) -> None:
    before = list(Node.objects.order_by("pk").values())
    site.enter("begin")
    site.enter("back out", text="the opening is cracked")
    assert list(Node.objects.order_by("pk").values()) == before
    assert site.state == OrderState.BACKED_OUT


def test_a_station_that_is_no_longer_what_the_order_replaces_stops_acceptance(site: Site) -> None:
    site.all_ticked()
    Node.objects.filter(key=site.station).update(model=EquipmentModel.objects.get(key="WS-20"))
    with pytest.raises(WorkRefused, match="on record as WS-20, not as WS-10"):
        site.enter("accept")
    assert site.state == OrderState.UNDER_WAY
