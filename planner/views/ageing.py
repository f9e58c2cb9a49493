"""Ageing: what fails next, where trouble comes again, and what the lives of the models stand on."""

from typing import Any
from urllib.parse import urlencode

import numpy as np
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import mark_safe

from inventory.core.campus_risk import CampusRisk, recurrent_trouble
from inventory.core.catalogue import NodeKind
from inventory.core.model_lives import ModelLife
from inventory.core.recurrence import mean_cumulative_count
from inventory.core.risk import Ranking, riskiest_rooms
from inventory.core.roles import Capability
from inventory.core.snapshot import Snapshot
from inventory.core.survival import survival_curve, well_watched_from
from inventory.models import Building, Node, Room
from inventory.views.guard import requires
from planner.handover.charts import bar
from planner.handover.life_chart import life_drawing, life_rows
from planner.handover.risk_map import BuildingRisk, FloorRisk, risk_map, riskiest
from planner.services.ageing import campus_ageing
from planner.services.remembered import Memory
from planner.store.ageing import buildings_at_risk, floors_at_risk, segments_of_stations

SHOWN_BUILDINGS = 60
SHOWN_ROOMS, SHOWN_STATIONS, SHOWN_PROBLEMS, SHOWN_DRAWINGS, SHOWN_GUESSES = 10, 20, 20, 6, 40
FEWEST_COUNTED, COUNT_STEP_YEARS = 5, 5  # failures of a model whose count is told; ages at which it is told
YES = "yes"


@requires(Capability.SEE)
def ageing(request: HttpRequest) -> HttpResponse:
    """Show the rooms and stations at most risk; unknown ages are estimated only where the address asks for it."""
    asked = request.GET.get("estimate") == YES
    name = "ageing-estimated" if asked else "ageing"
    told = Memory(timezone.localdate()).of(name, lambda: _told(asked=asked))
    return render(request, "planner/ageing.html", told)


def _told(*, asked: bool) -> dict[str, Any]:
    """Return what the page tells of the campus as its records are now."""
    snapshot, risk = campus_ageing(timezone.localdate(), estimate_unknown=asked)
    spots = recurrent_trouble(risk, snapshot.nodes.room, len(snapshot.rooms))
    segment, segments = segments_of_stations(snapshot.nodes.key)
    lines = recurrent_trouble(risk, segment, len(segments))
    buildings = _buildings()
    return {
        "today": timezone.localdate(),
        "estimated": int(risk.ranking.estimated.sum()) if asked else None,
        "unknown": int(np.isnan(risk.ranking.score).sum()),
        "stations": len(risk.ranking),
        "rooms": _rooms(snapshot, risk),
        "buildings": buildings[:SHOWN_BUILDINGS],
        "more_buildings": max(0, len(buildings) - SHOWN_BUILDINGS),
        "map": _map(),
        "models": _models(snapshot, risk),
        "guesses": _guesses(snapshot, risk) if asked else (),
        "more_guesses": max(0, int(risk.estimated.sum()) - SHOWN_GUESSES) if asked else 0,
        "first": _first(snapshot, risk.ranking),
        "spots": [{"room": _room_words(snapshot, spot.place), "spot": spot} for spot in spots if spot.stands_out],
        "lines": [{"segment": segments[spot.place], "spot": spot} for spot in lines if spot.stands_out],
        "counts": _counts(risk),
        "lives": [_life(life) for life in risk.model_lives if life.spells],
        "drawings": _drawings(risk),
        "problems": risk.problems[:SHOWN_PROBLEMS],
        "more_problems": max(0, len(risk.problems) - SHOWN_PROBLEMS),
    }


def _buildings() -> list[dict[str, Any]]:
    """Return the buildings by risk, each with a bar as long as its share of the greatest."""
    found = [(building, _days_of(building)) for building in buildings_at_risk()]
    most = max((days or 0.0 for _, days in found), default=0.0)
    return [
        {"building": building, "bar": mark_safe(bar(days or 0.0, most, "wait"))}  # noqa: S308 - drawn by us
        for building, days in found
    ]


def _map() -> dict[str, Any]:
    """Return the buildings drawn floor by floor, as many as a page holds, and how many are left out."""
    found = [
        BuildingRisk(
            key=building.key,
            name=building.name,
            district=building.district,
            floors=tuple(
                FloorRisk(
                    floor=floor,
                    weighted_days=days,
                    stations=stations,
                    untold=untold,
                    address=_stations_address(building.key, floor),
                )
                for floor, days, stations, untold in floors
            ),
        )
        for building, floors in floors_at_risk()
    ]
    drawn = riskiest(found)
    svg = mark_safe(risk_map(drawn)) if drawn else ""  # noqa: S308 - escapes every word
    return {"drawing": svg, "buildings": drawn, "left_out": len(found) - len(drawn)}


def _stations_address(building: str, floor: str | None) -> str:
    asked = {"building": building, **({} if floor is None else {"floor": floor}), "sort": "-risk"}
    return f"{reverse('stations')}?{urlencode(asked)}"


def _models(snapshot: Snapshot, risk: CampusRisk) -> list[dict[str, Any]]:
    """Return how old the stations of each model are, and how long they are sold and supported."""
    age, there = risk.lives.age_years, risk.lives.on_wall
    found = []
    for at, model in enumerate(snapshot.catalogue.models):
        mine = age[(snapshot.nodes.model == at) & there]
        if model.kind is not NodeKind.STATION or not mine.size:
            continue
        known = mine[np.isfinite(mine)]
        life = model.service_life_years
        found.append(
            {
                "model": model,
                "units": int(mine.size),
                "untold": int(mine.size - known.size),
                "median": round(float(np.median(known)), 1) if known.size else None,
                "oldest": round(float(known.max()), 1) if known.size else None,
                "past": None if life is None or not known.size else int((known > life).sum()),
            }
        )
    return sorted(found, key=lambda row: (-(row["median"] or 0.0), row["model"].key))


def _guesses(snapshot: Snapshot, risk: CampusRisk) -> list[dict[str, Any]]:
    """Return the nodes whose day of installation is an estimate, with the day."""
    rows = np.flatnonzero(risk.estimated)[:SHOWN_GUESSES].tolist()
    keys = [snapshot.nodes.key[at] for at in rows]
    pks = dict(Node.objects.filter(key__in=keys).values_list("key", "pk"))
    return [
        {
            "key": key,
            "pk": pks.get(key),
            "model": snapshot.catalogue.models[int(snapshot.nodes.model[at])].key,
            "building": snapshot.buildings[int(snapshot.nodes.building[at])].key,
            "day": risk.installed[at].item(),
        }
        for at, key in zip(rows, keys, strict=True)
    ]


def _days_of(building: Building) -> float | None:
    days: float | None = building.weighted_days  # type: ignore[attr-defined]
    return days


def _scored(ranking: Ranking) -> int:
    return int(np.isfinite(ranking.score).sum())


def _room_words(snapshot: Snapshot, room: int) -> str:
    record = snapshot.rooms[room]
    return f"{snapshot.buildings[record.building].key} {record.key}"


def _rooms(snapshot: Snapshot, risk: CampusRisk) -> list[dict[str, Any]]:
    found = riskiest_rooms(risk.ranking, snapshot.nodes.room, SHOWN_ROOMS)
    named = [(snapshot.buildings[(at := snapshot.rooms[one.room]).building].key, at.key) for one in found]
    rows = Room.objects.filter(building__key__in={b for b, _ in named}, key__in={r for _, r in named})
    pks = {(building, key): pk for building, key, pk in rows.values_list("building__key", "key", "pk")}
    return [
        {"words": " ".join(name), "pk": pks[name], "risk": one, "importance": snapshot.rooms[one.room].importance}
        for name, one in zip(named, found, strict=True)
    ]


def _first(snapshot: Snapshot, ranking: Ranking) -> list[dict[str, Any]]:
    """Return the stations at most risk, each with the address of its page."""
    rows = [_station(snapshot, ranking, row) for row in range(min(SHOWN_STATIONS, _scored(ranking)))]
    pks = dict(Node.objects.filter(key__in=[row["key"] for row in rows]).values_list("key", "pk"))
    return [{**row, "pk": pks.get(row["key"])} for row in rows if row["key"] in pks]


def _station(snapshot: Snapshot, ranking: Ranking, row: int) -> dict[str, Any]:
    at = int(ranking.station[row])
    room = int(snapshot.nodes.room[at])
    return {
        "key": snapshot.nodes.key[at],
        "model": snapshot.catalogue.models[int(snapshot.nodes.model[at])].key,
        "room": _room_words(snapshot, room) if room >= 0 else None,
        "age": round(float(ranking.age_years[row]), 1),
        "estimated": bool(ranking.estimated[row]),
        "chance": float(ranking.chance[row]),
        "importance": int(ranking.importance[row]),
        "days": round(float(ranking.days_without[row]), 1),
        "score": round(float(ranking.score[row]), 2),
    }


def _life(life: ModelLife) -> dict[str, Any]:
    curve = life.curve
    return {
        "life": life,
        "shape": None if curve is None else round(curve.shape, 2),
        "scale": None if curve is None else round(curve.scale_years, 1),
        "shape_interval": _rounded(life.shape_interval, 2),
        "scale_interval": _rounded(life.scale_interval_years, 1),
    }


def _rounded(interval: tuple[float, float] | None, places: int) -> str | None:
    return None if interval is None else f"{interval[0]:.{places}f} to {interval[1]:.{places}f}"


def _counts(risk: CampusRisk) -> list[dict[str, Any]]:
    """Return the mean failures that a unit has had by each fifth year of age, for models with failures enough."""
    many = [(at, life) for at, life in enumerate(risk.model_lives) if life.failures >= FEWEST_COUNTED]
    many.sort(key=lambda pair: (-pair[1].failures, pair[1].model))
    return [row for at, life in many[:SHOWN_DRAWINGS] for row in _counted(at, life, risk)]


def _counted(at: int, life: ModelLife, risk: CampusRisk) -> list[dict[str, Any]]:
    lives = risk.lives
    own = risk.unit_model[lives.node] == at
    start = well_watched_from(lives.entry_years[own], lives.exit_years[own])
    rows = own & (lives.exit_years > start)
    last = lives.exit_years[rows & lives.failed].max(initial=start)
    ages = np.arange(np.floor(start / COUNT_STEP_YEARS) + 1, np.ceil(last / COUNT_STEP_YEARS)) * COUNT_STEP_YEARS
    seen = mean_cumulative_count(
        np.maximum(lives.entry_years, start)[rows],
        lives.exit_years[rows],
        lives.failed[rows],
        lives.node[rows],
        at_years=[*ages, last],
        of=life.model,
    )
    return [
        {"model": life.model, "from": start, "age": age, "count": count, "band": f"{low:.2f} to {high:.2f}"}
        for age, count, low, high in zip(seen.age_years, seen.count, seen.low, seen.high, strict=True)
        if count > 0
    ]


def _drawings(risk: CampusRisk) -> list[dict[str, Any]]:
    """Return the drawings of the models that stand on their own failures, those with most failures first."""
    own = [(at, life) for at, life in enumerate(risk.model_lives) if life.fit is not None and life.curve is not None]
    own.sort(key=lambda pair: (-pair[1].failures, pair[1].model))
    return [{"model": life.model, **_drawn(at, life, risk)} for at, life in own[:SHOWN_DRAWINGS]]


def _drawn(at: int, life: ModelLife, risk: CampusRisk) -> dict[str, Any]:
    """Return the drawing of one model's life and the table behind it."""
    lives, curve = risk.lives, life.curve
    own = risk.unit_model[lives.node] == at
    start = well_watched_from(lives.entry_years[own], lives.exit_years[own])
    rows = own & (lives.exit_years > start)
    seen = survival_curve(np.maximum(lives.entry_years, start)[rows], lives.exit_years[rows], lives.failed[rows])
    if curve is None or not seen.age_years.size:
        return {"drawing": "", "rows": ()}
    svg = mark_safe(life_drawing(life.model, seen, curve))  # noqa: S308 - planner.handover.life_chart escapes every word
    return {"drawing": svg, "rows": life_rows(seen, curve)}
