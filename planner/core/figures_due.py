"""At which step each figure of an order is due, and what keeps a step open until its figures are read.

A step of a method may name what is measured at it. A figure between two nodes, or at one, is due where such a step is
done at one of them; where none is, at the last such step of its segment. One that no step names is due at none.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

from inventory.core.readings import UNIT
from planner.core.comparing import Compared
from planner.core.measuring import Measure
from planner.core.plans import Conversion
from planner.core.workpack import WorkPack, WorkStep

Due = dict[str, tuple[Measure, ...]]  # figures by the code of the step at which they are read


def figures_due(pack: WorkPack, measures: Mapping[str, Sequence[Measure]]) -> Due:
    """Return the figures of an order by the step at which they are due, each at one step at most.

    Parameters
    ----------
    pack : WorkPack
        Its steps, and its segments with their gateways.
    measures : mapping
        The figures to measure on each segment, by its name.

    """
    found: dict[str, list[Measure]] = {}
    for conversion in pack.order.conversions:
        for one in measures.get(conversion.segment, ()):
            step = _step_of(one, pack, conversion)
            if step is not None:
                found.setdefault(step.code, []).append(one)
    return {code: tuple(several) for code, several in found.items()}


def _step_of(measure: Measure, pack: WorkPack, conversion: Conversion) -> WorkStep | None:
    """Return the step at which a figure of a segment is due; None where no step names it.

    A step is done for a segment if it is its own, its gateway's, or done once for the whole order.
    """
    places = {*conversion.gateways, pack.order.key}
    asking = [
        one
        for one in pack.steps
        if one.reading == measure.quantity and (one.segment == conversion.segment or one.where in places)
    ]
    here = [one for one in asking if one.station in (measure.far, measure.node)]
    return here[0] if here else asking[-1] if asking else None


def what_is_open(due: Iterable[Measure], read: Collection[str], compared: Mapping[str, Compared]) -> tuple[str, ...]:
    """Return in words which figures of a step are not read yet, and which readings say stop.

    Parameters
    ----------
    due : iterable of Measure
        The figures of the step.
    read : collection of str
        Codes of the figures that were entered since the work began.
    compared : mapping
        How the newest reading of each figure compares with what is expected, by its code.

    """
    return tuple(_open(due, read, compared))


def _open(due: Iterable[Measure], read: Collection[str], compared: Mapping[str, Compared]) -> Iterator[str]:
    for one in due:
        newest = compared.get(one.code)
        if one.code not in read or newest is None:
            yield f"{one.quantity}, {one.where}, is not read yet"
        elif newest.doubts:
            value = f"{newest.reading.value:g} {UNIT[one.quantity]}"
            yield f"{one.quantity}, {one.where}, reads {value}: stop"
