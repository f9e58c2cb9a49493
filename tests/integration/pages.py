"""What tests of pages begin with: people signed in on the invented campus, a segment with a run, and what a page says."""

from typing import Any

from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from inventory.models import Building, Bus, Cable, Method, MethodPin, Node, ProtocolRate, Run
from planner.core.findings import LoadVoltage, SegmentReport
from planner.models import Segment
from planner.store.records import from_json, to_json
from tests.site_campus import whole_campus


def people_of_a_joined_campus() -> dict[str, User]:
    """Make the campus, every gateway on its bus and on the backbone of its building; return the people."""
    made = whole_campus()
    for building in Building.objects.all():
        backbone = Bus.objects.create(key=f"{building.key}-M", building=building)
        Node.objects.filter(building=building, model__kind="gateway").update(bus_2=backbone)
    return made


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def text_of(answer: Any) -> str:
    text: str = answer.content.decode()
    return text.replace("\N{NO-BREAK SPACE}", " ")


def page(client: Client, name: str, *args: object) -> str:
    answer = client.get(reverse(name, args=args))
    assert answer.status_code == 200
    return text_of(answer)


def in_wires() -> Segment:
    """Give the segment B1-L0 a run, a method with its landing, and a voltage."""
    segment = Segment.objects.get(key="B1-L0")
    report = from_json(SegmentReport, segment.report)
    station, gateway = Node.objects.get(key=report.old_stations[0]), Node.objects.get(key=report.gateways[0])
    cable = Cable.objects.create(key="2x1.5", power_conductor="1.5 mm2", conductor_class="solid", power_pairs=1)
    Run.objects.create(key="R1", bus=station.bus, from_node=gateway, to_node=station, cable=cable, length_m=40)
    gateway.model.supply_v = 24
    gateway.model.save()
    new = Node.objects.filter(model__key="WS-70").first()
    method = Method.objects.create(
        key="M-1",
        old_model=station.model,
        new_model=new.model if new else station.model,
        new_protocol=station.model.protocol,
        caution="Prove dead first.",
    )
    ProtocolRate.objects.create(protocol=station.model.protocol, bit_rate_kbit_s=125, ends=2, end_ohm=120)
    MethodPin.objects.create(method=method, signal="CAN_H", old_conductor="white", terminal="1", rj45_pin=1)
    MethodPin.objects.create(method=method, signal="CAN_L", old_conductor="blue", terminal="2", rj45_pin=3)
    segment.report = {
        **to_json(report),
        "runs": ["R1"],
        "methods": [[station.key, "M-1"]],
        "new_protocol": station.model.protocol.key,
        "bit_rate_kbit_s": 125.0,
        "voltages": to_json((LoadVoltage(node=station.key, voltage_v=23.4, current_a=0.07),)),
    }
    segment.save()
    return segment
