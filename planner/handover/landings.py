"""The landing tables of the methods that the plan uses, with the colours of both ways to land a category lead."""

from inventory.core.catalogue import Method
from planner.handover.facts import Handed, LandingRow

# pin: colour by T568A, colour by T568B (ANSI/TIA-568)
LEAD_COLOURS = {
    1: ("white/green", "white/orange"),
    2: ("green", "orange"),
    3: ("white/orange", "white/green"),
    4: ("blue", "blue"),
    5: ("white/blue", "white/blue"),
    6: ("orange", "green"),
    7: ("white/brown", "white/brown"),
    8: ("brown", "brown"),
}


def landing_rows(handed: Handed) -> tuple[LandingRow, ...]:
    """Return the pins of every method that an order uses, or of all methods where no order uses any."""
    used = {method for order in handed.orders for method in order.methods}
    methods = handed.snapshot.catalogue.methods
    chosen = [method for method in methods if method.key in used] or list(methods)
    return tuple(row for method in chosen for row in _rows_of(method))


def _rows_of(method: Method) -> list[LandingRow]:
    pins = sorted(method.pins, key=lambda pin: (pin.rj45_pin or 0, pin.signal))
    return [
        LandingRow(
            method=method,
            signal=pin.signal,
            old_conductor=pin.old_conductor,
            terminal=pin.terminal,
            rj45_pin=pin.rj45_pin,
            colour_a=LEAD_COLOURS.get(pin.rj45_pin or 0, (None, None))[0],
            colour_b=LEAD_COLOURS.get(pin.rj45_pin or 0, (None, None))[1],
            source=pin.source,
        )
        for pin in pins
    ]
