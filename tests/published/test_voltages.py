"""Whole segments, from records to voltages, against figures reckoned without this project's code.

Copper: NEC chapter 9 Table 8, 18 AWG stranded, uncoated, 7.95 ohm in 1000 ft at 75 C; its note 2,
R2 = R1 (1 + 0.00323 (T2 - 75)): 7.95 / 304.8 x 0.91925 = 0.0239766 ohm a metre at 50 C.
Leads: TIA-568, 9.38 ohm in 100 m of one conductor at 20 C; at 50 C times 1.1179; two pairs in parallel:
2 x 0.0938 x 1.1179 / 2 = 0.104859 ohm out and back of one metre.
"""

from dataclasses import replace

import pytest

from planner.core.findings import SegmentReport
from tests.campuses import Draft, add_station
from tests.unit.planner.lines import finding, line, report, with_node


def volts(found: SegmentReport) -> dict[str, tuple[float, float]]:
    return {one.node: (one.voltage_v or 0.0, one.current_a or 0.0) for one in found.voltages}


def test_one_station_at_40_m_and_two_leads_of_1_m() -> None:
    # Out and back: 2 x 40 x 0.0239766 + 2 x 0.104859 = 2.127846 ohm. 3 W from 24 V:
    # V = (24 + sqrt(576 - 4 x 3 x 2.127846)) / 2 = 23.73102 V, I = 3 / 23.73102 = 0.126417 A.
    # NEC rounds 7.95 to three digits, and 0.00393 at 20 C is not exactly 0.00323 at 75 C: hence 0.1 mV.
    found = report(line())
    assert volts(found)["B1-S101"] == pytest.approx((23.73102, 0.126417), abs=1e-4)
    # two pairs of the lead share the current: 0.063 A a contact
    assert finding(line(), "current").measured == pytest.approx(0.0632, abs=5e-5)
    # P R = V (Vs - V), greatest at half the source voltage: 12 x 12 / (23.73102 x 0.26898) = 22.56
    assert "may grow to 22.6 times" in finding(line(), "voltage").why


def row_of_two() -> Draft:
    """Two stations in a row, 40 m and 12 m, with a lead at each cable end."""
    draft = line()
    add_station(draft, "L1", "B1-S102", "B1-S101", length_m=12.0)
    return draft


def test_two_stations_in_a_row_by_ngspice() -> None:
    # ngspice, operating point: Vs g 0 24; R1 g a {80 r + 2 l}; R2 a b {24 r + 2 l}; Ba a 0 I=3/V(a); Bb b 0 I=3/V(b)
    # with r = 7.95/304.8*(1-0.00323*25), l = 0.0938*(1+0.00393*30): a 23.454493 V, b 23.353632 V, 0.2563669 A in all.
    found = volts(report(row_of_two()))
    assert found["B1-S101"][0] == pytest.approx(23.454493, abs=1e-4)
    assert found["B1-S102"][0] == pytest.approx(23.353632, abs=1e-4)
    assert sum(amps for _, amps in found.values()) == pytest.approx(0.2563669, abs=1e-5)
    # what the source gives: 24 x 0.2563669 = 6.152806 W
    assert finding(row_of_two(), "supply").measured == pytest.approx(6.152806, abs=1e-4)


def test_growth_is_that_of_the_load_that_fails_first_not_of_the_one_with_least_margin() -> None:
    # A new gateway beside the supply needs 23 V and gets nearly 24: least margin, and no growth hurts it. The station
    # at 200 m needs 12 V: 2 x 200 x 0.0239766 + 0.209718 = 9.8 ohm, V = (24 + sqrt(576 - 117.6)) / 2 = 22.705 V,
    # so that draw or length may grow by 144 / (22.705 x 1.295) = 4.90 (one load; the gateway changes little).
    draft = line(length_m=200.0)
    draft.node("SU", "SU-3", "L1", ends_bus="switch")
    draft.run("R-SU", "L1", ("L1-G", "SU"), cable="2x2 18AWG", length_m=0.5)
    draft.catalogue = replace(
        draft.catalogue,
        models=tuple(
            replace(one, supply_v=0.0, supply_rating_w=None, draw_w=0.01, lowest_supply_v=23.0)
            if one.key == "GW-7"
            else one
            for one in draft.catalogue.models
        ),
    )
    said = finding(with_node(draft, "L1-G", ends_bus=None), "voltage").why
    assert said.startswith("L1-G gets 23.9")
    assert "may grow to about 4.8" in said or "may grow to about 4.9" in said
