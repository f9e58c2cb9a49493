"""At which step each figure of an order is due, and what keeps a step open until its figures are read.

A step of a method may name what is measured at it. A figure between two nodes, or at one, is due where such a step is
done at one of them; where none is, at the last such step of its segment. One that no step names is due at none.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """What is to be read on an order and what was: `due` by step, `read` the codes entered since the work began.

    measures : the figures of each segment, by its name. compared : how the newest reading of each figure compares with
    what is expected, by its code.
    """

    due: Due
    measures: Mapping[str, Sequence[Measure]]
    read: Collection[str]
    compared: Mapping[str, Compared]

    def against(self, step: WorkStep) -> tuple[str, ...]:
        """Return in words what speaks against going on past a step.

        A figure that is due at it and not read yet, or says stop; at a hold point also one of its segment that no step
        names and that was read since the work began and says stop.
        """
        due = self.due.get(step.code, ())
        return (*self._unread(due), *self._stopping((*due, *(self.at_no_step(step.segment) if step.hold else ()))))

    def at_no_step(self, segment: str) -> tuple[Measure, ...]:
        """Return the figures of a segment that no step names, in the order in which they are measured."""
        named = {one.code for several in self.due.values() for one in several}
        return tuple(one for one in self.measures.get(segment, ()) if one.code not in named)

    def _unread(self, due: Iterable[Measure]) -> Iterator[str]:
        for one in due:
            if one.code not in self.read or one.code not in self.compared:
                yield f"{one.quantity}, {one.where}, is not read yet"

    def _stopping(self, some: Iterable[Measure]) -> Iterator[str]:
        for one in some:
            newest = self.compared.get(one.code)
            if newest is not None and one.code in self.read and newest.doubts:
                yield f"{one.quantity}, {one.where}, reads {newest.reading.value:g} {UNIT[one.quantity]}: stop"
