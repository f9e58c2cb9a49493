"""DeviceNet (IEC 62026-3) as published: trunks of thick, of thin and of both sorts of cable, drops, currents.

Lines have no patch leads, so that every length is that of the runs.
"""

from dataclasses import replace

import pytest

from planner.core.findings import Outcome
from tests.campuses import Draft
from tests.published.stars import FAIL, OK, judged, on_wire, powered, star
from tests.unit.planner.lines import finding, with_model


def test_thick_and_thin_trunks_of_devicenet_reach_the_same_at_500_kbit() -> None:
    draft = on_wire(star("DeviceNet, thick trunk", 500.0, [], trunk_m=20.0), "24 AWG")
    assert finding(draft, "cable").outcome is Outcome.PASS


# DeviceNet (IEC 62026-3), thick and thin cable in one trunk: thick + 5 x thin <= 500 m at 125, thick + 2.5 x thin <= 250 m at
# 250, thick + thin <= 100 m at 500 kbit/s. The thin row alone knows no thick cable that reaches further.
def mixed(row: str, rate: float, thick_m: float, thin_m: float, arms: list[tuple[float, str]] | None = None) -> Draft:
    """Draw a trunk of thick and of thin cable one after the other, with arms of thin cable."""
    draft = star(f"DeviceNet, {row} trunk", rate, arms or [], trunk_m=2 * thick_m)
    draft.runs = [
        replace(run, cable="2x2 24AWG", length_m=thin_m if run.key == "R-J" else run.length_m)
        if run.key == "R-J" or run.key.startswith("R-X")
        else run
        for run in draft.runs
    ]
    areas = {"2x2 18AWG": "18 AWG", "2x2 24AWG": "24 AWG"}
    cables = tuple(replace(one, data_conductor=areas.get(one.key)) for one in draft.catalogue.cables)
    draft.catalogue = replace(draft.catalogue, cables=cables)
    return draft


MIXES = (
    (0.0, 100.0),
    (40.0, 60.0),
    (99.0, 1.0),
    (100.0, 1.0),
    (1.0, 100.0),
    (200.0, 50.0),
    (200.0, 60.0),
    (125.0, 50.0),
    (125.0, 51.0),
)


@pytest.mark.parametrize(("rate", "times", "most_m"), [(125.0, 5.0, 500.0), (250.0, 2.5, 250.0), (500.0, 1.0, 100.0)])
def test_a_trunk_of_thick_and_thin_cable_is_held_to_the_rule_for_mixed_ones(
    rate: float, times: float, most_m: float
) -> None:
    for thick_m, thin_m in MIXES:
        fits = thick_m + times * thin_m <= most_m
        thick, thin = mixed("thick", rate, thick_m, thin_m), mixed("thin", rate, thick_m, thin_m)
        assert finding(thick, "cable").outcome is Outcome.PASS
        assert (finding(thick, "length").outcome in OK) is fits, (thick_m, thin_m)
        assert (finding(thick, "length").outcome is FAIL) is not fits, (thick_m, thin_m)
        assert (finding(thin, "length").outcome in OK) is (thick_m + thin_m <= 100.0), (thick_m, thin_m)


def test_thin_cable_on_drops_is_asked_about_where_it_could_be_in_the_trunk() -> None:
    # 300 m thick and 31 m thin come to 455 m. Of that trunk of 331 m 43 m may be thin with drops of 12 m, 503 m, and 36 with 5 m.
    assert finding(mixed("thick", 125.0, 300.0, 31.0, [(5.0, "SN-5")]), "length").outcome in OK
    asked = finding(mixed("thick", 125.0, 300.0, 31.0, [(6.0, "SN-5"), (6.0, "SN-5")]), "length")
    assert asked.outcome is Outcome.UNKNOWN
    assert asked.missing == ("How much thin cable is in the trunk of L1",)


def test_a_mixed_trunk_is_asked_about_where_its_thin_cable_could_carry_more_than_3_a() -> None:
    # IEC 62026-3: 3 A in a thin trunk. 18 AWG, 0.82 mm2, at 4 A/mm2 (common practice) may carry 3.3 A.
    draft = mixed("thick", 125.0, 100.0, 10.0)
    strong = tuple(
        replace(one, power_conductor="18 AWG") if one.key == "2x2 24AWG" else one for one in draft.catalogue.cables
    )
    draft.catalogue = replace(draft.catalogue, cables=strong)
    assert finding(draft, "cable").outcome is Outcome.UNKNOWN


def test_a_mixed_trunk_is_asked_about_where_a_conductor_or_a_length_is_not_known() -> None:
    draft = mixed("thick", 125.0, 100.0, 10.0)
    bare = tuple(replace(one, data_conductor=None) if one.key == "2x2 24AWG" else one for one in draft.catalogue.cables)
    draft.catalogue = replace(draft.catalogue, cables=bare)
    assert finding(draft, "cable").outcome is Outcome.UNKNOWN
    draft = mixed("thick", 125.0, 100.0, 10.0)
    draft.runs = [replace(run, length_m=None) if run.key == "R-J" else run for run in draft.runs]
    assert finding(draft, "length").outcome is Outcome.UNKNOWN


# DeviceNet (IEC 62026-3): 8 A in a thick trunk, 3 A in a thin one; 4.57 A divided by its metres in a drop, 3 A at most.
@pytest.mark.parametrize(
    ("protocol", "amps", "drop_m", "outcome"),
    [
        ("DeviceNet, thick trunk", 7.0, 0.0, Outcome.PASS),
        ("DeviceNet, thick trunk", 8.1, 0.0, FAIL),
        ("DeviceNet, thin trunk", 2.6, 0.0, Outcome.PASS),
        ("DeviceNet, thin trunk", 3.1, 0.0, FAIL),
        ("DeviceNet, thick trunk", 0.7, 6.0, Outcome.PASS),
        ("DeviceNet, thick trunk", 0.8, 6.0, Outcome.UNKNOWN),
        ("DeviceNet, thick trunk", 3.1, 1.0, Outcome.UNKNOWN),
    ],
)
def test_devicenet_bounds_the_current_in_trunk_and_drops(
    protocol: str, amps: float, drop_m: float, outcome: Outcome
) -> None:
    draft = star(protocol, 125.0, [(drop_m, "SN-5")] if drop_m else [], trunk_m=20.0)
    copper = tuple(replace(cable, power_conductor="50 mm2", power_pairs=3) for cable in draft.catalogue.cables)
    draft.catalogue = replace(draft.catalogue, cables=copper)
    draft = with_model(powered(draft, 24.0, 24.0 * amps), "SN-5", draw_w=0.0)
    found = finding(draft, "current")
    assert found.outcome in (OK if outcome is Outcome.PASS else (outcome,)), found.why


# DeviceNet (IEC 62026-3): one drop 6 m; all drops 156, 78, 39 m at 125, 250, 500 kbit/s.
@pytest.mark.parametrize(
    ("rate", "all_m", "trunk_m"), [(125.0, 156.0, 500.0), (250.0, 78.0, 250.0), (500.0, 39.0, 100.0)]
)
def test_devicenet_bounds_each_drop_and_their_sum(rate: float, all_m: float, trunk_m: float) -> None:
    name = "DeviceNet, thick trunk"
    whole, rest = divmod(all_m, 6.0)
    drops = [(6.0, "SN-5")] * int(whole) + ([(rest, "SN-5")] if rest else [])
    assert judged("stubs", name, rate, drops, trunk_m=trunk_m).outcome in OK
    more = judged("stubs", name, rate, [*drops, (0.1, "SN-5")], trunk_m=trunk_m)
    assert more.outcome is FAIL
    assert more.measured == pytest.approx(all_m + 0.1)
    assert more.limit == all_m
    assert judged("stubs", name, rate, [(6.1, "SN-5")], trunk_m=trunk_m).outcome is FAIL


def test_devicenet_drop_is_measured_to_its_farthest_device() -> None:
    # A drop that branches: 3 m from the tap, then 3 m and 2 m. The drop is 6 m, cumulative 8 m (ODVA, common practice).
    draft = star("DeviceNet, thick trunk", 125.0, [(3.0, "JB-1")], trunk_m=200.0)
    for name, length_m in (("Y1", 3.0), ("Y2", 2.0)):
        draft.node(name, "SN-5", "L1")
        draft.run(f"R-{name}", "L1", ("X000", name), cable="2x2 18AWG", length_m=length_m)
    assert finding(draft, "stubs").measured == 6.0
    draft.runs = [replace(run, length_m=3.1) if run.key == "R-Y1" else run for run in draft.runs]
    assert finding(draft, "stubs").outcome is FAIL
