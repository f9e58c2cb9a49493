"""The facts that a case lacks, told apart by the words in which its rules ask for them."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from planner.core.doubting.ranges import RANGES, Of, Range
from planner.core.rules.case import Case
from planner.core.rules.settle import Settled
from planner.core.rules.things import cables_in_use, methods, run_words

CATALOGUE = (Of.MODEL, Of.CABLE, Of.METHOD, Of.PROTOCOL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One fact that is not known: the question for it in words, its range, and the keys of the rows that it stands in."""

    words: str
    range: Range
    keys: tuple[str, ...]

    @property
    def in_catalogue(self) -> bool:
        """Tell whether the fact is one of the catalogue, and so the same wherever it is asked for."""
        return self.range.of in CATALOGUE

    @property
    def has_worst(self) -> bool:
        """Tell whether anything may pass at its worst end."""
        return self.range.worst is not None


def lacking(settled: Settled) -> frozenset[str]:
    """Return all that the rules lack, in their words."""
    return frozenset(words for one in settled.unknown for words in one.missing)


def facts_of(settled: Settled) -> tuple[Fact, ...]:
    """Return what is lacking as far as the table of ranges has it, in order of the words."""
    wanted = lacking(settled)
    found = {
        words: Fact(words=words, range=row, keys=keys)
        for row in RANGES
        for name, keys in _named(settled.case, row.of)
        if (words := row.asked.format(name)) in wanted
    }
    return tuple(found[words] for words in sorted(found))


def _named(case: Case, of: Of) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Yield the names by which rules call things of one kind, with the keys of their rows."""
    if of is Of.RUN:
        yield from ((run_words(wire), (wire.key,)) for wire in case.wires)
    elif of is Of.NODE:
        yield from ((member.key, (member.key,)) for member in case.members)
    elif of is Of.METHOD:
        keys = tuple(method.key for method in case.option.methods)
        yield from ((key, (key,)) for key in keys)
        yield methods(case), keys
    else:
        yield from ((key, (key,)) for key in _catalogue_keys(case)[of])


def _catalogue_keys(case: Case) -> Mapping[Of, list[str]]:
    return {
        Of.MODEL: sorted({member.model.key for member in case.members if member.model is not None}),
        Of.CABLE: [cable.key for cable in cables_in_use(case)],
        Of.PROTOCOL: [name for name in (case.protocol, case.option.new_protocol) if name is not None],
    }
