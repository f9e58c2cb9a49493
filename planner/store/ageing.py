"""Risks of stations into their table and back, and the log of failures with what hung in each place before."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime
from heapq import nlargest
from typing import Any

import numpy as np
from django.db import transaction
from django.db.models import Count, F, Max, Q, Sum

from inventory.core.catalogue import NodeKind
from inventory.core.catalogue import Spare as SpareRecord
from inventory.core.lives import FailureLog, FormerUnits
from inventory.core.risk import Ranking
from inventory.core.snapshot import UNKNOWN, Ints, Snapshot
from inventory.models import Building, Node, Room, Spare
from inventory.store.failures import load_failures
from planner.models import Assessment, Reckoning, SegmentMember, StationRisk
from planner.models.work import Rebuild

BATCH = 2000


def load_log(snapshot: Snapshot, starts: date | None = None) -> FailureLog:
    """Return all failures on record, with the units that accepted orders replaced."""
    return replace(load_failures(snapshot.nodes.key, starts), former=load_former(snapshot))


def load_former(snapshot: Snapshot) -> FormerUnits:
    """Return the units that hung in the places of a snapshot until an accepted order put something else there."""
    at = {key: position for position, key in enumerate(snapshot.nodes.key)}
    models = {model.key: position for position, model in enumerate(snapshot.catalogue.models)}
    found = []
    for changes in (
        Rebuild.objects.filter(undone=None).order_by("at", "pk").values_list("changes", flat=True).iterator()
    ):
        for key, facts in _node_facts(changes).items():
            came, went = facts.get("installed", (None, None))
            if key in at and went is not None:
                model = (
                    models.get(facts["model"][0] or "", UNKNOWN) if "model" in facts else snapshot.nodes.model[at[key]]
                )
                found.append((at[key], model, came or "NaT", went))
    return FormerUnits(
        node=np.array([row[0] for row in found], dtype=np.int32),
        model=np.array([row[1] for row in found], dtype=np.int32),
        installed=np.array([row[2] for row in found], dtype="datetime64[D]"),
        removed=np.array([row[3] for row in found], dtype="datetime64[D]"),
    )


def _node_facts(changes: Any) -> dict[str, dict[str, tuple[str | None, str | None]]]:
    """Return what acceptance changed of each node: field to (before, after), as text."""
    found: dict[str, dict[str, tuple[str | None, str | None]]] = defaultdict(dict)
    for one in changes:
        if one["table"] == "Node":
            found[one["record"]][one["field"]] = (one["before"], one["after"])
    return found


def spares_at(moment: datetime) -> tuple[SpareRecord, ...]:
    """Return the spares that were on the shelves at an earlier moment, by model and store."""
    history: Any = Spare.history
    rows = history.as_of(moment).select_related("model")
    found = [SpareRecord(model=row.model.key, on_hand=row.on_hand, store=row.store) for row in rows]
    return tuple(sorted(found, key=lambda one: (one.model, one.store or "")))


@transaction.atomic
def keep_risks(snapshot: Snapshot, ranking: Ranking, *, at: datetime, on: date) -> Reckoning:
    """Store the risks in place of those before; a station that went meanwhile is passed over."""
    ids = dict(Node.objects.values_list("key", "pk").iterator())
    StationRisk.objects.all().delete()
    StationRisk.objects.bulk_create(_rows(snapshot, ranking, ids), batch_size=BATCH)
    Reckoning.objects.all().delete()
    told = int(np.isfinite(ranking.score).sum())
    return Reckoning.objects.create(at=at, on=on, stations=len(ranking), told=told)


def forget_risks(nodes: Iterable[int]) -> None:
    """Forget the risks of stations that are others now, by their ids, until risks are reckoned again."""
    StationRisk.objects.filter(node__in=list(nodes)).delete()


def _rows(snapshot: Snapshot, ranking: Ranking, ids: dict[str, int]) -> Iterator[StationRisk]:
    columns = (
        ranking.station,
        ranking.age_years,
        ranking.chance,
        ranking.importance,
        ranking.days_without,
        ranking.score,
    )
    for at, *figures in zip(*(column.tolist() for column in columns), strict=True):
        pk = ids.get(snapshot.nodes.key[at])
        if pk is not None:
            age, chance, importance, days, score = (_known(value) for value in figures)
            yield StationRisk(
                node_id=pk, age_years=age, chance=chance, importance=importance, days_without=days, score=score
            )


def _known(value: Any) -> Any:
    return None if value != value else value  # noqa: PLR0124 - NaN is not itself


def rooms_at_risk(most: int) -> list[Room]:
    """Return the rooms with the greatest sum of risks, each with `weighted_days`, `stations` and `untold`."""
    summed = StationRisk.objects.filter(score__gt=0, node__room__isnull=False).order_by().values_list("node__room")
    sums = dict(summed.annotate(Sum("score")))  # first, by itself: rooms are far more than those asked for
    least = min(nlargest(most, sums.values()), default=0.0)
    found = Room.objects.filter(pk__in=[room for room, days in sums.items() if days >= least]).annotate(
        stations=Count("nodes", filter=Q(nodes__model__kind=NodeKind.STATION)),
        untold=Count("nodes__risk", filter=Q(nodes__risk__score=None)),
    )
    rooms: list[Room] = list(found.select_related("building").order_by("building__key", "key"))
    for room in rooms:
        room.weighted_days = sums[room.pk]  # type: ignore[attr-defined]
    return sorted(rooms, key=lambda room: -sums[room.pk])[:most]


def buildings_at_risk() -> list[Building]:
    """Return the buildings by the sum of their stations' risks, each with `weighted_days`, `stations` and `worst`."""
    buildings = Building.objects.annotate(
        weighted_days=Sum("nodes__risk__score"), stations=Count("nodes__risk"), worst=Max("nodes__risk__score")
    )
    return list(buildings.filter(stations__gt=0).order_by(F("weighted_days").desc(nulls_last=True), "key"))


def floors_at_risk() -> list[tuple[Building, tuple[tuple[str | None, float | None, int, int], ...]]]:
    """Return each building with its floors: name (None not known), sum of risks (None not told), stations, untold ones."""
    rows = (
        StationRisk.objects.values_list("node__building", "node__room__floor")
        .annotate(days=Sum("score"), stations=Count("pk"), untold=Count("pk", filter=Q(score=None)))
        .order_by("node__building", "node__room__floor")
    )
    floors: dict[int, list[tuple[str | None, float | None, int, int]]] = defaultdict(list)
    for building, floor, days, stations, untold in rows:
        floors[building].append((floor, days, stations, untold))
    found = Building.objects.in_bulk(list(floors))
    return [(found[building], tuple(mine)) for building, mine in floors.items()]


def segments_of_stations(nodes: Sequence[str]) -> tuple[Ints, tuple[str, ...]]:
    """Return the segment of each node as of the last assessment, and the names of those segments.

    Only of stations, which have one side; anything else is -1, not known.
    """
    rows = SegmentMember.objects.filter(
        segment__assessment=Assessment.objects.order_by("at", "pk").last(), node__model__kind="station"
    ).values_list("node__key", "segment__key")
    named = dict(rows.iterator())
    segments = tuple(sorted(set(named.values())))
    place = {segment: number for number, segment in enumerate(segments)}
    return np.array([place.get(named.get(key, ""), UNKNOWN) for key in nodes], dtype=np.int32), segments
