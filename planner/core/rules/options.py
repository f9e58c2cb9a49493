"""The ways in which the old stations of one segment may be converted: one method for each old model, agreeing."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, fields
from itertools import product

from inventory.core.catalogue import Catalogue, Method, NodeKind, ProtocolRow
from planner.core.brief import Brief

SCREEN = ("screen", "shield", "drain", "shld")  # words in the name of a conductor that is no core (common practice)
MOST_OPTIONS = 64  # more ways than this for one set of old models are cut off, in order of their names


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One way: a method for each old model, and what they agree on.

    `rows` are the limits at each bit rate that is open, the first to be tried first; with a rate named by the
    methods (or by a bus that keeps its protocol) there is at most one. `rate_named` tells whether it is. `was_fed`
    tells whether the old bus carries power, None where that is not known.
    """

    methods: tuple[Method, ...]
    new_protocol: str
    new_gateway: str | None
    rows: tuple[ProtocolRow, ...]
    rate_named: bool
    like_for_like: bool
    was_fed: bool | None

    @property
    def signature(self) -> tuple[str, str]:
        """Return what the segments of one gateway must agree on."""
        return self.new_protocol, self.new_gateway or ""

    @property
    def rate_open(self) -> bool:
        """Tell whether the bus keeps its bit rate and nobody recorded which of several that is."""
        return self.like_for_like and len(self.rows) > 1

    @property
    def extras(self) -> frozenset[str]:
        """Return the extras that any of the methods lists parts for."""
        return frozenset().union(*(method.extras for method in self.methods))

    @property
    def on_screen(self) -> tuple[str, ...]:
        """Return the signals that the methods land on the screen of the old cable, by name."""
        pins = (pin for method in self.methods for pin in method.pins)
        return tuple(sorted({pin.signal for pin in pins if is_screen(pin.old_conductor)}))

    def method_for(self, model: str) -> Method | None:
        """Return the method that replaces `model`."""
        return next((method for method in self.methods if method.old_model == model), None)


def is_screen(conductor: str | None) -> bool:
    """Tell whether a conductor of an old cable is its screen, by its name.

    Examples
    --------
    >>> is_screen("screen"), is_screen("drain wire of the shield"), is_screen("data pair, white"), is_screen(None)
    (True, True, False, False)

    """
    return any(word in (conductor or "").casefold() for word in SCREEN)


def old_models(catalogue: Catalogue) -> frozenset[str]:
    """Return the models that make a station an old one: those that some method replaces."""
    stations = {model.key for model in catalogue.models if model.kind is NodeKind.STATION}
    return frozenset(method.old_model for method in catalogue.methods) & stations


def options_for(
    models: Iterable[str], protocol: str | None, rate: float | None, catalogue: Catalogue, brief: Brief
) -> tuple[Option, ...]:
    """Return the options for a segment that holds these old models; none where no methods agree."""
    by_model = [
        [m for m in catalogue.methods if m.old_model == model and m.key not in brief.forbidden_methods]
        for model in sorted(models)
    ]
    found: list[Option] = []
    for methods in product(*by_model):
        option = _agreed(methods, protocol, rate, catalogue)
        if option is not None:
            found.append(option)
        if len(found) == MOST_OPTIONS:
            break
    return tuple(found)


def _agreed(
    methods: tuple[Method, ...], protocol: str | None, rate: float | None, catalogue: Catalogue
) -> Option | None:
    protocols = {method.new_protocol for method in methods}
    gateways = {method.new_gateway_model for method in methods}
    rates = {method.bit_rate_kbit_s for method in methods} - {None}
    if len(protocols) != 1 or len(gateways) != 1 or len(rates) > 1:
        return None
    new_protocol = protocols.pop()
    like_for_like = new_protocol == protocol
    named = rates.pop() if rates else (rate if like_for_like else None)
    return Option(
        methods=methods,
        new_protocol=new_protocol,
        new_gateway=gateways.pop(),
        rows=protocol_rows(catalogue, new_protocol, named),
        rate_named=named is not None or like_for_like,
        like_for_like=like_for_like,
        was_fed=_is_fed(catalogue, protocol),
    )


def _is_fed(catalogue: Catalogue, protocol: str | None) -> bool | None:
    """Return whether a bus of this protocol carries power; None where its rows are silent or disagree."""
    said = {row.power_on_bus for row in catalogue.protocols if row.protocol == protocol}
    return said.pop() if len(said) == 1 else None


def _is_sound(row: ProtocolRow) -> bool:
    figures = (getattr(row, field.name) for field in fields(row))
    return all(0 <= figure < math.inf for figure in figures if isinstance(figure, (int, float)))


def protocol_rows(catalogue: Catalogue, protocol: str, rate: float | None) -> tuple[ProtocolRow, ...]:
    """Return the limits that are open, the highest rate first; never those of a row below the rate asked for.

    A row with a figure that cannot be one (below zero, not a number) counts as not on record.
    """
    rows = [row for row in catalogue.protocols if row.protocol == protocol and _is_sound(row)]
    rows.sort(key=lambda row: -(row.bit_rate_kbit_s if row.bit_rate_kbit_s is not None else float("inf")))
    if rate is None:
        return tuple(rows)
    fitting = [row for row in rows if row.bit_rate_kbit_s is None or row.bit_rate_kbit_s >= rate]
    return tuple(fitting[-1:])
