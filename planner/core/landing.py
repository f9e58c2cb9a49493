"""The sheet the crew needs at each cable end: what lands where, what is wrong with it, what to measure."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

from inventory.core.catalogue import Method


class Scheme(StrEnum):
    """The two ways TIA-568 lands the four colours of a category cable on a jack."""

    A = "T568A"
    B = "T568B"


@dataclass(frozen=True, slots=True, kw_only=True)
class JackPin:
    """One pin of an RJ45 jack: the pair it belongs to under each scheme, and the pin its pair mate is on."""

    pin: int
    colour_a: str
    pair_a: int
    colour_b: str
    pair_b: int
    mate: int


def _jack(pin: int, colour_a: str, pair_a: int, colour_b: str, pair_b: int, mate: int) -> JackPin:  # noqa: PLR0917 - a table row
    return JackPin(pin=pin, colour_a=colour_a, pair_a=pair_a, colour_b=colour_b, pair_b=pair_b, mate=mate)


# Colours and which pins form a pair: TIA-568. Numbers of the pairs: TIA-568, from memory.
JACK = (
    _jack(1, "white/green", 3, "white/orange", 2, 2),
    _jack(2, "green", 3, "orange", 2, 1),
    _jack(3, "white/orange", 2, "white/green", 3, 6),
    _jack(4, "blue", 1, "blue", 1, 5),
    _jack(5, "white/blue", 1, "white/blue", 1, 4),
    _jack(6, "orange", 2, "green", 3, 3),
    _jack(7, "white/brown", 4, "white/brown", 4, 8),
    _jack(8, "brown", 4, "brown", 4, 7),
)
BY_PIN = {row.pin: row for row in JACK}

# Words in the name of a signal that say it is no data signal (common practice).
NOT_DATA = (
    "GND",
    "GROUND",
    "COM",
    "SHLD",
    "SHIELD",
    "SCREEN",
    "PWR",
    "POWER",
    "SUPPLY",
    "V+",
    "V-",
    "VDC",
    "0V",
    "24V",
)
# Words in the name of a signal that say that nothing lands there (CiA 303-1: reserved; else common practice).
IDLE = ("RESERVED", "NOT CONNECTED", "SPARE", "UNUSED")
# Endings that tell the two lines of one balanced signal apart (common practice).
LINE_ENDINGS = (("_H", "_L"), ("+", "-"), ("_P", "_N"), ("_A", "_B"), (" A", " B"), ("HIGH", "LOW"))


@dataclass(frozen=True, slots=True, kw_only=True)
class LandingRow:
    """Where one conductor lands at one cable end; None is not known."""

    signal: str
    old_conductor: str | None
    terminal: str | None
    rj45_pin: int | None
    colour_t568a: str | None
    colour_t568b: str | None
    pair_t568a: int | None
    pair_t568b: int | None
    bridged: bool  # the same signal is on another pin too: a bridge joins their terminals
    source: str | None

    @property
    def conductor_words(self) -> str | None:
        """Return the old conductor, or why none comes here; None where that is not known."""
        if self.old_conductor is not None:
            return self.old_conductor
        return "none: stays free" if is_idle(self.signal) else "none: by the bridge" if self.bridged else None

    @property
    def terminal_words(self) -> str | None:
        """Return the terminal; None where it is not known."""
        return "none" if self.terminal is None and is_idle(self.signal) else self.terminal


def landing_table(method: Method) -> tuple[LandingRow, ...]:
    """Return the landing of one cable end, the same at both, by pin; what has no pin stands last.

    Examples
    --------
    >>> from inventory.core.catalogue import MethodPin
    >>> pin = MethodPin(signal="CAN_H", old_conductor="data pair, white", terminal="1", rj45_pin=1)
    >>> row, = landing_table(Method(key="M", old_model="A", new_model="B", new_protocol="C", pins=(pin,)))
    >>> row.rj45_pin, row.colour_t568a, row.colour_t568b
    (1, 'white/green', 'white/orange')

    """
    signals = [pin.signal for pin in method.pins if not is_idle(pin.signal)]
    rows = []
    for pin in method.pins:
        jack = BY_PIN.get(pin.rj45_pin) if pin.rj45_pin is not None else None
        rows.append(
            LandingRow(
                signal=pin.signal,
                old_conductor=pin.old_conductor,
                terminal=pin.terminal,
                rj45_pin=pin.rj45_pin,
                colour_t568a=jack.colour_a if jack else None,
                colour_t568b=jack.colour_b if jack else None,
                pair_t568a=jack.pair_a if jack else None,
                pair_t568b=jack.pair_b if jack else None,
                bridged=signals.count(pin.signal) > 1,
                source=pin.source,
            )
        )
    return tuple(sorted(rows, key=_order))


def _order(row: LandingRow) -> tuple[bool, int, str, str]:
    return row.rj45_pin is None, row.rj45_pin or 0, row.signal, row.old_conductor or ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bridge:
    """Terminals of one breakout that are joined because they carry the same signal, and the pins behind them."""

    signal: str
    terminals: tuple[str, ...]
    pins: tuple[int, ...]

    @property
    def words(self) -> str:
        """Return what is joined, in words."""
        pins = " and ".join(map(str, self.pins)) or "not known"
        return f"{self.signal}: join terminals {' and '.join(self.terminals)} (pins {pins})"


def bridges(rows: tuple[LandingRow, ...]) -> tuple[Bridge, ...]:
    """Return the bridges of one cable end: one for each signal that stands on more than one terminal.

    Doubled power pins carry one signal over two pairs of the lead; the old cable has one conductor for it, which lands
    on one terminal, and the bridge takes it to the other.

    Examples
    --------
    >>> from inventory.core.catalogue import MethodPin
    >>> pins = (
    ...     MethodPin(signal="V+", old_conductor="power pair, red", terminal="4", rj45_pin=4),
    ...     MethodPin(signal="V+", terminal="7", rj45_pin=7),
    ... )
    >>> rows = landing_table(Method(key="M", old_model="A", new_model="B", new_protocol="C", pins=pins))
    >>> [one.words for one in bridges(rows)]
    ['V+: join terminals 4 and 7 (pins 4 and 7)']

    """
    places: dict[str, dict[str, int | None]] = defaultdict(dict)
    for row in rows:
        if row.terminal is not None and not is_idle(row.signal):
            places[row.signal][row.terminal] = row.rj45_pin
    return tuple(
        Bridge(signal=signal, terminals=tuple(found), pins=tuple(pin for pin in found.values() if pin is not None))
        for signal, found in sorted(places.items())
        if len(found) > 1
    )


def crossed_signals(rows: tuple[LandingRow, ...]) -> tuple[tuple[str, int, int], ...]:
    """Return what a lead would move that is made up T568A at one plug and T568B at the other: signal, pin, far pin.

    Examples
    --------
    >>> from inventory.core.catalogue import MethodPin
    >>> pins = tuple(MethodPin(signal=s, old_conductor=s, terminal=s, rj45_pin=n) for s, n in (("CAN_H", 1), ("V+", 8)))
    >>> crossed_signals(landing_table(Method(key="M", old_model="A", new_model="B", new_protocol="C", pins=pins)))
    (('CAN_H', 1, 3),)

    """
    far = crossing(Scheme.A, Scheme.B)
    landed = [(row.signal, row.rj45_pin) for row in rows if row.rj45_pin in BY_PIN and not is_idle(row.signal)]
    return tuple((signal, pin, far[pin - 1]) for signal, pin in landed if pin is not None and far[pin - 1] != pin)


def crossing(near: Scheme, far: Scheme) -> tuple[int, ...]:
    """Return the far pin that each near pin 1 to 8 meets, on a lead made up to one scheme here and another there.

    Examples
    --------
    >>> crossing(Scheme.A, Scheme.A)
    (1, 2, 3, 4, 5, 6, 7, 8)
    >>> crossing(Scheme.A, Scheme.B)
    (3, 6, 1, 4, 5, 2, 7, 8)

    """
    there = {_colour(row, far): row.pin for row in JACK}
    return tuple(there[_colour(row, near)] for row in JACK)


def _colour(row: JackPin, scheme: Scheme) -> str:
    return row.colour_a if scheme is Scheme.A else row.colour_b


def check_landing(
    near: tuple[LandingRow, ...],
    far: tuple[LandingRow, ...] | None = None,
    *,
    lead: tuple[Scheme, Scheme] = (Scheme.B, Scheme.B),
) -> tuple[str, ...]:
    """Return what is wrong with a landing, in words, sorted; nothing where it is right.

    Parameters
    ----------
    near, far : tuple of LandingRow
        The two cable ends; `far` left out is the same as `near`.
    lead : pair of Scheme
        How the two plugs of a patch lead are made up; two different ones cross it over.

    Returns
    -------
    tuple of str
        One sentence a fault.

    """
    ends = (near, near if far is None else far)
    found = {sentence for rows in ends for check in _CHECKS for sentence in check(rows)}
    return tuple(sorted(found | set(_ends_that_differ(*ends)) | set(_crossed_lead(near, lead))))


def landing_faults(methods: Iterable[Method]) -> tuple[tuple[str, ...], ...]:
    """Return what is wrong with the landing of each of the methods of one segment: its own, and how it differs from the first.

    Methods of one segment must land alike, since one line joins their stations.
    """
    methods = tuple(methods)
    tables = [landing_table(method) for method in methods]
    return tuple(
        check_landing(rows) + (_unlike(methods[0].key, tables[0], method.key, rows) if number else ())
        for number, (method, rows) in enumerate(zip(methods, tables, strict=True))
    )


def _unlike(
    first: str, first_rows: tuple[LandingRow, ...], other: str, rows: tuple[LandingRow, ...]
) -> tuple[str, ...]:
    """Return how a method lands otherwise than the first one of the segment does."""
    own = {*check_landing(first_rows), *check_landing(rows)}
    differ = [one for one in check_landing(first_rows, rows) if one not in own]
    return tuple(f"Methods {first} and {other} do not land alike: {one}" for one in differ)


def _unlanded(rows: tuple[LandingRow, ...]) -> Iterable[str]:
    if not rows:
        yield "The method does not say where any signal lands."
    fed = {row.signal for row in rows if row.old_conductor is not None}
    for row in (row for row in rows if is_idle(row.signal) and row.old_conductor is not None):
        yield f"{row.signal} takes no conductor, and {row.old_conductor} is written down for it."
    for row in (row for row in rows if not is_idle(row.signal)):
        if row.signal not in fed:
            yield f"{row.signal} has no old conductor: write down which one carries it."
        for what, value in (("terminal", row.terminal), ("pin", row.rj45_pin)):
            if value is None:
                yield f"{row.signal} has no {what}: write down where it lands."
        if row.rj45_pin is not None and row.rj45_pin not in BY_PIN:
            yield f"{row.signal} lands on pin {row.rj45_pin}, and a jack has pins 1 to 8."


_HELD: dict[str, Callable[[LandingRow], tuple[str | int | None, str]]] = {
    "Pin": lambda row: (row.rj45_pin, f"{row.signal} ({row.old_conductor or 'conductor not known'})"),
    "Terminal": lambda row: (row.terminal, row.signal),
    "Conductor": lambda row: (row.old_conductor, row.signal),
}


def _shared_places(rows: tuple[LandingRow, ...]) -> Iterable[str]:
    """Find two conductors on one pin, two signals on one terminal, two signals on one conductor."""
    for what, held in _HELD.items():
        holders: dict[str, set[str]] = defaultdict(set)
        written: dict[str, str | int] = {}  # as the first row has it: `Red` and `red` are one
        for row in rows:
            place, name = held(row)
            if place is not None:
                holders[str(place).casefold()].add(name)
                written.setdefault(str(place).casefold(), place)
        for where, names in holders.items():
            if len(names) > 1:
                yield f"{what} {written[where]} holds {' and '.join(sorted(names))}: one only."


def is_data(signal: str) -> bool:
    """Tell whether a signal is data, by its name: neither supply, ground nor screen.

    Examples
    --------
    >>> is_data("CAN_H"), is_data("CAN_GND"), is_data("PWR_POS")
    (True, False, False)

    """
    plain = signal.upper()
    return not is_idle(signal) and not any(word in plain for word in NOT_DATA)


def is_idle(signal: str) -> bool:
    """Tell whether a signal is none, by its name: a pin that must stay free.

    Examples
    --------
    >>> is_idle("reserved"), is_idle("CAN_H")
    (True, False)

    """
    return any(word in signal.upper() for word in IDLE)


def _are_mates(one: str, other: str) -> bool:
    """Tell whether two names are the two lines of one balanced signal: alike but for their endings."""
    pair = (one.upper(), other.upper())
    if set(pair) == {"A", "B"}:
        return True
    return any(
        first.endswith(high) and second.endswith(low) and first.removesuffix(high) == second.removesuffix(low)
        for high, low in LINE_ENDINGS
        for first, second in (pair, pair[::-1])
    )


def _split_pairs(rows: tuple[LandingRow, ...]) -> Iterable[str]:
    """Find data signals whose two lines do not run in one twisted pair, on every pin that they are on."""
    data: dict[str, set[int]] = defaultdict(set)
    for row in (row for row in rows if is_data(row.signal)):
        data[row.signal] |= {pin for pin in (row.rj45_pin,) if pin is not None and pin in BY_PIN}
    if rows and not data:
        yield "No signal of the method is data by its name: write down where both data lines land."
    mates = [pair for pair in combinations(sorted(data), 2) if len(data) == len(pair) or _are_mates(*pair)]
    for name in sorted(data.keys() - {name for pair in mates for name in pair}):
        yield f"{name} has no second line to share a twisted pair with."
    for one, other in mates:
        if data[one] and data[other]:
            yield from list(_strays(one, other, data)) or _strays(other, one, data)


def _strays(one: str, other: str, data: Mapping[str, set[int]]) -> Iterator[str]:
    """Yield the pins of one line of a signal on whose twisted pair the other line is not."""
    others = " and ".join(map(str, sorted(data[other])))
    for pin in sorted(data[one]):
        if BY_PIN[pin].mate not in data[other]:
            yield f"{one} on pin {pin} and {other} on pin {others} are not one twisted pair: pin {pin} pairs with pin {BY_PIN[pin].mate}."


def _split_old_pairs(rows: tuple[LandingRow, ...]) -> Iterable[str]:
    """Find data signals whose two lines come from two pairs of the old cable, where the records name pairs."""
    pairs = {row.signal: pair for row in rows if is_data(row.signal) and (pair := _old_pair(row.old_conductor))}
    for one, other in combinations(sorted(pairs), 2):
        if pairs[one] != pairs[other] and (len(pairs) == 2 or _are_mates(one, other)):  # noqa: PLR2004 - a pair
            yield f"{one} on the {pairs[one]} and {other} on the {pairs[other]} are not one twisted pair of the old cable."


def _old_pair(conductor: str | None) -> str | None:
    """Return the pair that a conductor belongs to, as in `data pair, white`; None where it names none."""
    pair, comma, _ = (conductor or "").partition(",")
    return pair.strip().casefold() if comma and "pair" in pair.casefold() else None


_CHECKS = (_unlanded, _shared_places, _split_pairs, _split_old_pairs)


def _places(rows: tuple[LandingRow, ...]) -> dict[str, set[tuple[str | None, int | None]]]:
    places: dict[str, set[tuple[str | None, int | None]]] = defaultdict(set)
    for row in rows:
        places[row.signal].add((row.old_conductor, row.rj45_pin))
    return places


def _ends_that_differ(near: tuple[LandingRow, ...], far: tuple[LandingRow, ...]) -> Iterable[str]:
    here, there = _places(near), _places(far)
    for signal in sorted(here.keys() | there.keys()):
        if here.get(signal) != there.get(signal):
            yield f"{signal} is {_landed(here.get(signal))} at one end and {_landed(there.get(signal))} at the other."


def _landed(places: set[tuple[str | None, int | None]] | None) -> str:
    if not places:
        return "not landed"
    named = sorted((conductor or "conductor not known", pin or 0) for conductor, pin in places)
    return " and ".join(f"{conductor} on pin {pin or 'not known'}" for conductor, pin in named)


def _crossed_lead(rows: tuple[LandingRow, ...], lead: tuple[Scheme, Scheme]) -> Iterable[str]:
    far = crossing(*lead)
    for row in rows:
        if row.rj45_pin in BY_PIN and row.rj45_pin is not None and far[row.rj45_pin - 1] != row.rj45_pin:
            yield f"A lead made up {lead[0]} to {lead[1]} is crossed: {row.signal} leaves pin {row.rj45_pin} and arrives on pin {far[row.rj45_pin - 1]}."
