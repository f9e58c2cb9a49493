"""What was measured on a segment against what its records predict, and what would explain the difference.

A reading beyond its tolerance means that a record is wrong, or that the wire is another than the records say: the
records are doubted until one is corrected or the figure is measured anew. A good reading only confirms.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from inventory.core.readings import UNIT, Quantity, Reading
from inventory.core.saying import day_words
from planner.core.circuits import (
    Circuit,
    Explained,
    Stretch,
    between_ohm,
    data_pair_ohm,
    explained_by,
    length_of_loop_m,
    times_for_voltage,
    voltage_at,
)
from planner.core.figures import Figure, data_lines_figure, loop_figure, no_load_figure, reading_words, voltage_figure


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One reading against what the records predict.

    figure : what they predict, None where they do not say enough. said : how the two agree and what would explain a
    difference, in words. doubts : facts to be settled on site; none where the reading is good or nothing is predicted.
    """

    reading: Reading
    figure: Figure | None
    said: str
    doubts: tuple[str, ...] = ()


def compare(
    circuit: Circuit, volts: Mapping[str, float | None], readings: Iterable[Reading], segment: str
) -> tuple[Compared, ...]:
    """Return each reading of a segment against its records.

    Parameters
    ----------
    circuit : Circuit
        The segment as its records give it, after conversion.
    volts : mapping
        Voltage that is predicted at each node under load [V]; None where there is none.
    readings : iterable of Reading
        The newest reading of each quantity and place.
    segment : str
        Its name, for the questions.

    Returns
    -------
    tuple of Compared
        In the order of `readings`.

    """
    readings = tuple(readings)
    known = _Known(circuit=circuit, volts=volts, no_load_v=_no_load(circuit, readings), segment=segment)
    return tuple(_COMPARE[one.quantity](known, one) for one in readings)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Known:
    """What the records predict of a segment, and what its source was seen to give without load [V]."""

    circuit: Circuit
    volts: Mapping[str, float | None]
    no_load_v: float | None
    segment: str


def _no_load(circuit: Circuit, readings: Iterable[Reading]) -> float | None:
    """Return what the source really gives, by the newest good reading without load."""
    if circuit.source_v is None:
        return None
    figure = no_load_figure(circuit.source_v)
    good = [one for one in readings if one.quantity is Quantity.NO_LOAD and reading_words(figure, one.value) is None]
    return max(good, key=lambda one: (one.on, one.node)).value if good else None


def _compare_loop(known: _Known, reading: Reading) -> Compared:
    far = reading.far or reading.node
    way = known.circuit.way(reading.node, far)
    ohm = between_ohm(way, reading.node, far)
    if ohm is None:
        return Compared(reading=reading, figure=None, said=_stands_for(reading, way))
    figure = loop_figure(ohm)
    explained = explained_by(way, reading.value / ohm) if ohm > 0.0 else Explained()
    return _compared(reading, figure, _would_explain(explained), tuple(_lengths_and_cables(way)))


def _stands_for(reading: Reading, way: tuple[Stretch, ...]) -> str:
    """Say what a loop tells where its length is not known."""
    length_m = length_of_loop_m(way, reading.value) if way else None
    if not way:
        return "The records show no run that leads there, so that nothing can be compared."
    if length_m is None:
        return "Too little is known of the runs on the way to compare it."
    return (
        f"With the cable on record it stands for {length_m:.0f} m of wire on the way, of which no length is on record."
    )


def _compare_data_lines(known: _Known, reading: Reading) -> Compared:
    circuit = known.circuit
    figure = None
    if circuit.ends is not None and circuit.end_ohm:
        figure = data_lines_figure(circuit.ends, circuit.end_ohm, data_pair_ohm(circuit))
    if figure is None:
        return Compared(reading=reading, figure=None, said="What the end resistors should read is not known.")
    return _compared(reading, figure, "", (f"End resistors in circuit on {known.segment}",))


def _compare_no_load(known: _Known, reading: Reading) -> Compared:
    if known.circuit.source_v is None:
        return Compared(
            reading=reading, figure=None, said="What feeds the segment, and with how many volts, is not known."
        )
    doubt = f"What feeds {known.segment}, with how many volts, and what else draws from it"
    return _compared(reading, no_load_figure(known.circuit.source_v), "", (doubt,))


def _compare_loaded(known: _Known, reading: Reading) -> Compared:
    circuit, predicted = known.circuit, known.volts.get(reading.node)
    if known.no_load_v is not None:
        circuit = replace(circuit, source_v=known.no_load_v)
        predicted = voltage_at(circuit, reading.node) or predicted
    if predicted is None or circuit.source_v is None:
        return Compared(
            reading=reading, figure=None, said="No voltage is predicted there, so that nothing can be compared."
        )
    figure = voltage_figure(predicted, circuit.source_v)
    if reading.value > figure.highest:
        return _compared(reading, figure, "", (f"Voltage of what feeds {known.segment}",))
    way = circuit.way(circuit.source, reading.node) if circuit.source is not None else ()
    times = times_for_voltage(circuit, reading.node, reading.value) if reading.value < figure.lowest else None
    if times is None:
        explained = (
            "No length of the cable on record explains it: look for a bad joint, or for something else that draws."
        )
    else:
        explained = _would_explain(explained_by(way, times))
    return _compared(reading, figure, explained, tuple(_lengths_and_cables(way)))


_COMPARE: Mapping[Quantity, Callable[[_Known, Reading], Compared]] = {
    Quantity.LOOP: _compare_loop,
    Quantity.DATA_LINES: _compare_data_lines,
    Quantity.NO_LOAD: _compare_no_load,
    Quantity.LOADED: _compare_loaded,
}


def _lengths_and_cables(way: tuple[Stretch, ...]) -> Iterator[str]:
    """Yield the records that a resistance on the way doubts."""
    for stretch in way:
        yield f"Length of {stretch.words}"
        yield f"Cable of {stretch.words}"


def _compared(reading: Reading, figure: Figure, explained: str, doubts: tuple[str, ...]) -> Compared:
    """Return a reading against a figure: good, or doubting the records."""
    meaning = reading_words(figure, reading.value)
    if meaning is None:
        return Compared(reading=reading, figure=figure, said="As the records predict.")
    unit, digits = UNIT[reading.quantity], figure.digits
    expected, lowest, highest = (f"{one:.{digits}f}" for one in (figure.expected, figure.lowest, figure.highest))
    said = (
        f"The {reading.quantity.value} {_place(reading)} was read as {reading.value:.4g} {unit} on "
        f"{day_words(reading.on)}; the records give {expected} {unit} "
        f"({lowest} to {highest}). {explained or meaning}"
    )
    return Compared(reading=reading, figure=figure, said=said, doubts=doubts or (f"What is wired at {reading.node}",))


def _place(reading: Reading) -> str:
    return f"at {reading.node}" if reading.far is None else f"from {reading.where}"


def _would_explain(explained: Explained) -> str:
    """Say what length and which conductors would explain a figure."""
    ways = []
    if explained.length_m is not None and explained.recorded_m:
        ways.append(f"{explained.length_m:.0f} m of wire on the way instead of {explained.recorded_m:.0f} m")
    if explained.conductor is not None:
        ways.append(f"conductors of {explained.conductor} instead of {explained.recorded}")
    if not ways:
        return ""
    shorter = explained.length_m is not None and explained.length_m < (explained.recorded_m or 0.0)
    return f"{' or '.join(ways)} would explain it; so would {'a bridge on the way' if shorter else 'a bad joint'}."
