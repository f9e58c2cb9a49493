"""Whole tables into arrays: exactly what the rows hold, on either database, whatever stands in them."""

import numpy as np
import pytest

from inventory.models import Building, Bus, EquipmentModel, Node, Protocol, Run
from inventory.store import columns
from inventory.store.columns import Wanted, read_columns

pytestmark = pytest.mark.django_db
ODD = ['a "b"', "c\nd", "e,f", "\\u0041", "{}", "ä € 𝄞", "'; --"]
METRES = [0.1 + 0.2, 1 / 3, 5e-324, 99999.12345678901, 0.0, 2.5, 7.000000000000001]


@pytest.fixture
def rows() -> None:
    building = Building.objects.create(key="B1")
    model = EquipmentModel.objects.create(key="M", kind="station")
    bus = Bus.objects.create(key="L1", building=building, protocol=Protocol.objects.create(key="P"))
    nodes = [Node.objects.create(key=key, building=building, model=model, bus=bus) for key in ODD]
    for key, length in zip(ODD, METRES, strict=True):
        Run.objects.create(key=key, bus=bus, from_node=nodes[0], to_node=nodes[1], length_m=length)


@pytest.mark.usefixtures("rows")
@pytest.mark.parametrize("lot", [1, 3, 20_000])
def test_texts_counts_and_fractions_come_as_they_are_stored(lot: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(columns, "LOT", lot)
    Run.objects.filter(key=ODD[2]).delete()
    wanted = (Wanted("key"), Wanted("coalesce(length_m, -1)", np.float64), Wanted("id", np.int64))
    keys, lengths, ids = read_columns(Run, *wanted)
    stored = list(Run.objects.order_by("pk").values_list("key", "length_m", "pk"))
    assert list(zip(keys, lengths.tolist(), ids.tolist(), strict=True)) == stored


@pytest.mark.usefixtures("rows")
def test_some_rows_alone_come_in_the_order_of_their_ids() -> None:
    some = list(Run.objects.order_by("-pk").values_list("pk", flat=True)[:4])
    keys, lengths = read_columns(Run, Wanted("key"), Wanted("length_m", np.float64), of=frozenset(some))
    assert list(zip(keys, lengths.tolist(), strict=True)) == [
        (one.key, one.length_m) for one in Run.objects.filter(pk__in=some).order_by("pk")
    ]


def test_an_empty_table_gives_empty_columns() -> None:
    keys, ids = read_columns(Run, Wanted("key"), Wanted("id", np.int64))
    assert keys == []
    assert ids.tolist() == []


@pytest.mark.usefixtures("rows")
def test_a_blank_that_nobody_gave_a_number_is_refused_rather_than_left_out() -> None:
    with pytest.raises((ValueError, TypeError)):
        read_columns(Node, Wanted("room_id", np.int64))
