"""What is drawn of a segment: nodes and runs with the words beside them, before a change and after it."""

from dataclasses import dataclass
from enum import StrEnum


class Sign(StrEnum):
    """A small mark before words; the words say the same."""

    NONE = ""
    IN = "put in"
    OUT = "taken out"
    END = "end resistor"


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A few words beside a node or a run, with the sign before them."""

    text: str
    sign: Sign = Sign.NONE


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnNode:
    """One node to draw; `kind` as in the catalogue, `notes` the words under its name, `sign` what becomes of it."""

    key: str
    kind: str
    notes: tuple[Note, ...] = ()
    is_old: bool = False
    sign: Sign = Sign.NONE


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnRun:
    """One run to draw; `label` says length and cable, in words where those are not known; `notes` what is done to it."""

    key: str
    ends: tuple[str, str]
    label: str
    length_m: float | None = None
    notes: tuple[Note, ...] = ()
    sign: Sign = Sign.NONE


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnSegment:
    """One segment to draw. `when` tells before from after; `root` is drawn first, a gateway where there is one.

    says_runs : its description for those who hear it tells every run.
    """

    segment: str
    verdict: str
    nodes: tuple[DrawnNode, ...]
    runs: tuple[DrawnRun, ...]
    root: str | None = None
    when: str = "as recorded"
    says_runs: bool = True
