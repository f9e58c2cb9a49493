"""Orders: the convertible segments, grouped into outages, with rooms, people, minutes, parts, cost and benefit.

Segments must share an order when the change of one gateway affects both; they may when that saves (planner.core.grouping).
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import reduce

from inventory.core.catalogue import Method, Part
from inventory.core.snapshot import Floats, Snapshot
from planner.core.benefit import benefits, oldest_of
from planner.core.bill import SegmentWork, added, bill, freed_units
from planner.core.brief import Brief
from planner.core.campus_index import Campus, RoomKey, campus_of
from planner.core.changes import MOVE, cable_needs, change_steps, conversion_of, cost_of, effort_of
from planner.core.choices import Refusal, Sharing
from planner.core.clocks import DAY_MIN
from planner.core.effort import Effort, total_effort
from planner.core.findings import CONVERTIBLE, SegmentReport
from planner.core.grouping import Limits, Piece, group_pieces, join, linked
from planner.core.impact import Network, network_of
from planner.core.money import hours_of, to_cents
from planner.core.plans import Order, PartNeed
from planner.core.sharing import Ground, Held, hold
from planner.core.watches import Watch, rooms_by_key, watches_of

Reports = tuple[SegmentReport, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """An order before it has a name: its building, its segments in order, the rooms that go dark."""

    building: str
    own: Reports
    dark: tuple[RoomKey, ...]
    watches: tuple[Watch, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Grouped:
    """Orders, and why some of a planner's choices about them do not hold."""

    orders: tuple[Order, ...]
    refused: tuple[Refusal, ...] = ()


def make_orders(
    snapshot: Snapshot,
    reports: Reports,
    brief: Brief,
    sharings: tuple[Sharing, ...] = (),
    begun: frozenset[str] = frozenset(),
    *,
    risks: Floats | None = None,
) -> tuple[Order, ...]:
    """Return the orders that convert every segment found in place or together.

    Parameters
    ----------
    snapshot : Snapshot
        The campus.
    reports : tuple of SegmentReport
        All segments, judged.
    brief : Brief
        Prices, longest outage, setting up and restoring.
    sharings : tuple of Sharing, optional
        Which segments share an order by a planner's choice; what does not hold is passed over.
    begun : frozenset of str, optional
        Segments of orders that are under way or accepted: they are in no order any more.
    risks : numpy.ndarray, optional
        Of each node, see `planner.core.benefit.risk_of_stations`.

    Returns
    -------
    tuple of Order
        Sorted by key: the building and a running number by first segment. Each convertible segment is in one order.

    """
    return group_orders(snapshot, reports, brief, sharings, begun, risks=risks).orders


def group_orders(
    snapshot: Snapshot,
    reports: Reports,
    brief: Brief,
    sharings: tuple[Sharing, ...] = (),
    begun: frozenset[str] = frozenset(),
    *,
    risks: Floats | None = None,
) -> Grouped:
    """Return the orders, and why some choices do not hold; see `make_orders`."""
    campus = campus_of(snapshot)
    work = {
        report.segment: report for report in reports if report.verdict in CONVERTIBLE and report.segment not in begun
    }
    musts = _must_share(campus, tuple(work[key] for key in sorted(work)))
    network = network_of(snapshot, reports)
    rooms = [_rooms(network, must) for must in musts]
    pieces = tuple(_piece(campus, must, dark, brief) for must, dark in zip(musts, rooms, strict=True))
    held = hold(_ground(campus, musts, pieces, brief), sharings)
    groups = _groups(pieces, held, _limits(brief))
    drafts, facts = [], rooms_by_key(snapshot)
    for group in groups:
        own = tuple(sorted((report for at in group for report in musts[at]), key=lambda report: report.segment))
        dark = rooms[group[0]] if len(group) == 1 else _rooms(network, own)
        drafts.append(Draft(building=_building(campus, own), own=own, dark=dark, watches=watches_of(facts, dark)))
    stations = tuple(sorted({station for draft in drafts for report in draft.own for station in report.old_stations}))
    worth = benefits(campus, stations, risks)
    orders = tuple(_order(campus, key, draft, brief, worth) for key, draft in _named(drafts))
    return Grouped(orders=orders, refused=held.refused)


def _ground(campus: Campus, musts: tuple[Reports, ...], pieces: tuple[Piece, ...], brief: Brief) -> Ground:
    return Ground(
        pieces=pieces,
        buildings=tuple(_building(campus, must) for must in musts),
        segments=tuple(tuple(report.segment for report in must) for must in musts),
        gateways=tuple(", ".join(sorted({key for report in must for key in report.gateways})) for must in musts),
        limits=_limits(brief),
    )


def _groups(pieces: tuple[Piece, ...], held: Held, limits: Limits) -> list[tuple[int, ...]]:
    """Return the groups of pieces, those that are bundled by hand taken as one."""
    bundle_of = {at: number for number, bundle in enumerate(held.bundles) for at in bundle}
    apart = {(bundle_of[one], bundle_of[other]) for one, other in held.apart}
    found = group_pieces(
        tuple(reduce(join, (pieces[at] for at in bundle)) for bundle in held.bundles),
        limits,
        frozenset((min(pair), max(pair)) for pair in apart),
    )
    return [tuple(sorted(at for number in group for at in held.bundles[number])) for group in found]


def _limits(brief: Brief) -> Limits:
    return Limits(
        longest_dark_min=brief.longest_outage_min,
        longest_onsite_min=(brief.work_to_min - brief.work_from_min - 1) % DAY_MIN + 1,
        setup_and_restore_min=brief.setup_min + brief.restore_min,
        outage_rate=brief.outage_rate,
        call_out=brief.call_out,
    )


def _must_share(campus: Campus, work: Reports) -> tuple[Reports, ...]:
    """Return the segments by what must share an order: those whose changed gateway is the same."""
    groups = linked([_gateways_changed(campus, report) for report in work])
    return tuple(tuple(work[at] for at in group) for group in groups)


def _gateways_changed(campus: Campus, report: SegmentReport) -> tuple[str, ...]:
    return report.gateways if _changes_gateway(campus, report) else ()


def _changes_gateway(campus: Campus, report: SegmentReport) -> bool:
    """Tell whether converting a segment touches its gateway: it does unless the work is like for like."""
    methods = _methods(campus, report)
    same = {campus.bus_protocol.get(bus) for bus in report.buses} == {report.new_protocol}
    return not same or report.new_protocol is None or any(method.new_gateway_model for method in methods)


def _methods(campus: Campus, report: SegmentReport) -> tuple[Method, ...]:
    """Return the method of each old station that has one, in the order of the stations."""
    return tuple(campus.methods[method] for _, method in report.methods if method in campus.methods)


def _rooms(network: Network, own: Reports) -> tuple[RoomKey, ...]:
    """Return the rooms that go dark, and those of the stations themselves, sorted.

    The segments to which nodes are moved are dead too while that is done.
    """
    targets = [change.to for report in own for change in report.changes if change.what == MOVE and change.to]
    dark = network.dark_rooms((report.segment for report in own), beside=targets)
    return tuple(sorted({*dark, *(place for report in own for place in report.places)}))


def _piece(campus: Campus, must: Reports, dark: tuple[RoomKey, ...], brief: Brief) -> Piece:
    before, dark_min, after = (effort := _effort(campus, must, brief)).whole_min
    return Piece(
        rooms=frozenset(dark),
        links=frozenset(link for report in must for link in _links(campus, report)),
        dark_min=dark_min,
        live_min=before + after,
        dated=not effort.unknown,
    )


def _links(campus: Campus, report: SegmentReport) -> Iterator[tuple[str, str, str]]:
    """Yield what a segment shares with others: the rooms, floors and panels of its old stations, in one building."""
    building = _building(campus, (report,))
    for station in report.old_stations:
        node = campus.node[station]
        room = campus.room(node)
        if room is not None:
            yield "room", building, campus.room_key(room)[1]
            if (floor := campus.snapshot.rooms[room].floor) is not None:
                yield "floor", building, floor
        for panel in campus.panels.get(node, ()):
            yield "panel", building, panel


def _building(campus: Campus, own: Reports) -> str:
    """Return the building of an order: that of its first segment, else of its first station."""
    first = own[0]
    if first.building is not None:
        return first.building
    at = int(campus.snapshot.nodes.building[campus.node[first.old_stations[0]]])
    return campus.snapshot.buildings[at].key


def _effort(campus: Campus, own: Reports, brief: Brief, *, labour: bool = False) -> Effort:
    """Return what segments take, with their changes; for labour, without what the brief's rates hold already."""
    steps = (step for report in own for step in change_steps(report, brief) if not (labour and step.priced))
    return total_effort([conversion_of(report) for report in own], campus.methods) + effort_of(steps)


def _named(drafts: list[Draft]) -> Iterator[tuple[str, Draft]]:
    """Yield each draft with its key, sorted by building and first segment."""
    number: dict[str, int] = defaultdict(int)
    for draft in sorted(drafts, key=lambda draft: (draft.building, draft.own[0].segment)):
        number[draft.building] += 1
        yield f"{draft.building}-O{number[draft.building]:03}", draft


def _order(campus: Campus, key: str, draft: Draft, brief: Brief, worth: dict[str, float]) -> Order:
    own, dark = draft.own, draft.dark
    effort = _effort(campus, own, brief)
    before, dark_min, after = effort.whole_min
    setup_min, restore_min = brief.setup_min + before, brief.restore_min + after
    works = tuple(_work(campus, report) for report in own)
    cables, no_part = _cables(campus, own)
    parts = added(bill(works, campus.model_parts), cables)
    cost_parts, unpriced = price_parts(parts, campus.parts, brief.currency)
    stations = tuple(sorted(station for report in own for station in report.old_stations))
    labour_min = brief.setup_min + sum(_effort(campus, own, brief, labour=True).whole_min) + brief.restore_min
    person_h = effort.people * hours_of(labour_min)
    return Order(
        key=key,
        building=draft.building,
        district=campus.districts.get(draft.building),
        segments=tuple(report.segment for report in own),
        conversions=tuple(conversion_of(report) for report in own),
        stations=stations,
        rooms=dark,
        people=effort.people,
        setup_min=setup_min,
        outage_min=dark_min,
        restore_min=restore_min,
        parts=parts,
        freed=freed_units(works),
        cost_parts=cost_parts,
        cost_labour=to_cents(person_h * brief.labour_rate),
        cost_outage=to_cents(len(dark) * hours_of(dark_min) * brief.outage_rate),
        cost_call_out=to_cents(brief.call_out),
        currency=brief.currency,
        changes=tuple(step for report in own for step in change_steps(report, brief)),
        cost_changes=cost_of(own, brief),
        watches=draft.watches,
        unpriced=(*unpriced, *no_part),
        benefit=round(sum(worth[station] for station in stations), 6),
        oldest=oldest_of(campus, stations),
        methods=tuple(sorted({method.key for work in works for method in work.methods})),
        extras=tuple((report.segment, extra) for report in own for extra in report.extras),
        unknown=effort.unknown + _unknown(campus, own),
    )


def _work(campus: Campus, report: SegmentReport) -> SegmentWork:
    methods = dict(report.methods)
    stations = (
        (campus.methods[methods[name]].old_model, campus.methods[methods[name]])
        for name in report.old_stations
        if methods.get(name) in campus.methods
    )
    return SegmentWork(
        segment=report.segment,
        stations=tuple(stations),
        gateways=tuple((name, campus.model_key(name)) for name in report.gateways),
        supplies=tuple((name, campus.model_key(name)) for name in report.nodes if campus.is_supply(name)),
        cable_ends=report.cable_ends,
        extras=report.extras,
    )


def _cables(campus: Campus, own: Reports) -> tuple[tuple[PartNeed, ...], tuple[str, ...]]:
    """Return the cable to pull as parts, and in words the cables that no part is known for."""
    part_of = {cable.key: cable.part for cable in campus.snapshot.catalogue.cables}
    needs = [(part_of.get(cable), cable, metres) for report in own for cable, metres in cable_needs(report)]
    known = tuple(PartNeed(part=part, quantity=metres) for part, _, metres in needs if part is not None)
    return known, tuple(sorted({f"{cable}: no part is known" for part, cable, _ in needs if part is None}))


def _unknown(campus: Campus, own: Reports) -> tuple[str, ...]:
    """Return what else keeps an order from being dated: stations without a method or a room."""
    found = []
    for report in own:
        methods = dict(report.methods)
        for station in report.old_stations:
            if methods.get(station) not in campus.methods:
                found.append(f"no method is known for station {station}")
            if campus.room(campus.node[station]) is None:
                found.append(f"the room of station {station} is not known, so nobody can tell when it is free")
    return tuple(found)


def price_parts(needs: Iterable[PartNeed], parts: dict[str, Part], currency: str) -> tuple[Decimal, tuple[str, ...]]:
    """Return the cost of those parts that have a price in a currency, and in words why the others are left out."""
    total, unpriced = Decimal(0), []
    for need in needs:
        part = parts.get(need.part)
        if part is None or part.price is None:
            unpriced.append(f"{need.part}: no price is known")
        elif part.currency != currency:
            unpriced.append(f"{need.part}: priced in {part.currency or 'an unknown currency'}, not in {currency}")
        else:
            total += part.price * need.quantity
    return to_cents(total), tuple(unpriced)
