"""A gateway and a station on a line of an open standard, with arms, to be held against what the standard publishes."""

from dataclasses import replace
from typing import Any

from inventory.core.standards import open_standards
from planner.core.findings import Finding, Outcome
from tests.campuses import Draft
from tests.unit.planner.lines import finding, line, with_method, with_model, without_leads

OK, FAIL = (Outcome.PASS, Outcome.CLOSE), Outcome.FAIL


def star(protocol: str, rate: float | None, arms: list[tuple[float, str]], *, trunk_m: float | None = None) -> Draft:
    """A gateway and a station on `trunk_m` of wire (or at a junction) with arms (length, model) from the junction."""
    draft = without_leads(line(length_m=(trunk_m or 0.0) / 2))
    thick = tuple(replace(cable, data_conductor="4 mm2") for cable in draft.catalogue.cables)
    draft.catalogue = replace(draft.catalogue, protocols=open_standards(), cables=thick)
    draft = with_method(draft, "M-20", new_protocol=protocol, bit_rate_kbit_s=rate)
    for model in ("GW-7", "WS-70"):
        draft = with_model(draft, model, protocol=protocol)
    draft = with_model(draft, "SN-5", protocol_2=protocol)
    draft.node("J", "JB-1", "L1")
    draft.runs = [replace(run, from_node="J") if run.key == "R-B1-S101" else run for run in draft.runs]
    draft.run("R-J", "L1", ("L1-G", "J"), cable="2x2 18AWG", length_m=(trunk_m or 0.0) / 2)
    for number, (length_m, model) in enumerate(arms):
        draft.node(f"X{number:03d}", model, "L1")
        draft.run(f"R-X{number:03d}", "L1", ("J", f"X{number:03d}"), cable="2x2 18AWG", length_m=length_m)
    return draft


def judged(rule: str, *about: Any, **more: Any) -> Finding:
    return finding(star(*about, **more), rule)


def on_wire(draft: Draft, conductor: str | None) -> Draft:
    """Put all data pairs on one size of conductor."""
    cables = tuple(replace(cable, data_conductor=conductor) for cable in draft.catalogue.cables)
    draft.catalogue = replace(draft.catalogue, cables=cables)
    return draft


def powered(draft: Draft, volts: float, watts: float) -> Draft:
    """Give the gateway, which feeds the line, a voltage, and the station a draw that any of these voltages serve."""
    draft = with_model(draft, "GW-7", supply_v=volts, supply_rating_w=500.0)
    return with_model(draft, "WS-70", draw_w=watts, lowest_supply_v=1.0)


RJ45, DALI = "CAN over RJ45 (NMRA S-9.7.1.1)", "DALI (IEC 62386)"
