"""Work at the wall box: steps in their order, hold points that stop, entries that count once, records as built."""

from datetime import UTC, datetime, timedelta
from html import unescape
from io import BytesIO
from uuid import uuid4
from zlib import crc32

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from inventory.models import Node, Reading
from planner.core.plans import OrderState
from planner.models import (
    Order,
    OrderEvent,
    Photograph,
    Plan,
    Precedence,
    WorkEntry,
)
from planner.services.clock import standing_at
from planner.services.order_states import NotNow
from planner.services.photographs import LONG_SIDE_PX, NoPhotograph, picture_of
from planner.services.segment_sheets import sheets_of
from planner.services.work import Typed, WorkRefused, enter, journal_of, pack_of
from tests.work import STEPS, Site, comes_first, into_its_window, land, measured_order

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return Site()


def picture(size: tuple[int, int] = (4000, 3000), kind: str = "JPEG") -> bytes:
    content = BytesIO()
    Image.new("RGB", size, "grey").save(content, kind)
    return content.getvalue()


def test_the_steps_stand_in_the_order_in_which_they_are_done(site: Site) -> None:
    codes = pack_of(site.order).codes
    numbered = [f"{site.station} {n}" for n in range(1, len(STEPS) + 1)]
    assert codes == ("change 1", *numbered)


def test_nothing_is_ticked_before_the_work_has_begun(site: Site) -> None:
    with pytest.raises(NotNow, match="Begin the work first"):
        site.enter("tick", f"{site.station} 1")


def test_a_drafted_order_is_not_begun(site: Site) -> None:
    Order.objects.filter(pk=site.order.pk).update(state=OrderState.DRAFTED)
    with pytest.raises(NotNow, match="not booked"):
        site.enter("begin")


def test_what_is_begun_before_what_comes_first_is_kept_with_the_reason_and_nothing_is_lost(site: Site) -> None:
    comes_first(site.order)
    client = Client()
    client.force_login(site.people["crew"])
    for name in ("order-work", "order-pack"):
        said = client.get(reverse(name, args=[site.order.pk])).content.decode()
        assert "comes first and is not accepted yet" in said
        assert "one key for both" in said
    site.enter("begin", text="the keys came early")
    site.enter("tick", f"{site.station} 1")
    assert site.state == OrderState.UNDER_WAY
    assert list(journal_of(site.order).ticks) == [f"{site.station} 1"]
    why = site.order.events.get(state=OrderState.UNDER_WAY).why or ""
    assert why.startswith("begun although B1-O0 comes first and is drafted, night of ")
    assert why.endswith(": one key for both. Reason: the keys came early")


@pytest.mark.parametrize(
    ("after", "words"), [(timedelta(days=-3), "its window begins on "), (timedelta(days=2), "its window ended on ")]
)
def test_what_is_begun_beside_its_window_is_warned_of_and_kept_with_the_reason(
    site: Site, after: timedelta, words: str
) -> None:
    into_its_window(site.order, after)
    client = Client()
    client.force_login(site.people["crew"])
    said = client.get(reverse("order-work", args=[site.order.pk])).content.decode()
    assert words in said
    assert "Why it begins all the same" in said
    site.enter("begin", text="the room was given free")
    assert site.state == OrderState.UNDER_WAY
    why = site.order.events.get(state=OrderState.UNDER_WAY).why or ""
    assert why.startswith(f"begun although {words}")
    assert why.endswith("Reason: the room was given free")
    assert "Not in its window" not in client.get(reverse("order-work", args=[site.order.pk])).content.decode()


@pytest.mark.parametrize("after", [timedelta(minutes=-59), timedelta(minutes=184)])
def test_within_the_window_and_an_hour_before_nothing_is_said(site: Site, after: timedelta) -> None:
    into_its_window(site.order, after)
    site.enter("begin")
    assert site.order.events.get(state=OrderState.UNDER_WAY).why is None


def test_once_what_comes_first_is_accepted_or_the_choice_is_taken_back_nothing_is_said(site: Site) -> None:
    first = comes_first(site.order)
    client = Client()
    client.force_login(site.people["crew"])

    def warned() -> bool:
        said = client.get(reverse("order-work", args=[site.order.pk])).content.decode()
        return "comes first and is not accepted yet" in said

    told = []
    for state in (OrderState.BACKED_OUT, OrderState.ACCEPTED, OrderState.DRAFTED):
        Order.objects.filter(pk=first.pk).update(state=state)
        told.append(warned())
    assert told == [True, False, True]
    Precedence.objects.all().delete()
    assert not warned()
    site.enter("begin")
    assert site.order.events.get(state=OrderState.UNDER_WAY).why is None


def test_a_backed_out_order_is_not_offered_to_be_begun_before_it_is_booked_anew(site: Site) -> None:
    Order.objects.filter(pk=site.order.pk).update(state=OrderState.BACKED_OUT)
    client = Client()
    client.force_login(site.people["crew"])
    assert "I have read the cautions" not in client.get(reverse("order-work", args=[site.order.pk])).content.decode()
    with pytest.raises(NotNow, match="what can follow: booked"):
        site.enter("begin")


def test_a_hold_point_waits_for_what_comes_before_it_and_stops_what_comes_after(site: Site) -> None:
    site.enter("begin")
    with pytest.raises(WorkRefused, match="Box adapter"):
        site.enter("tick", f"{site.station} 2", "Ines")
    with pytest.raises(WorkRefused, match="Hold point: Isolate"):
        site.enter("tick", f"{site.station} 3")
    site.enter("tick", "change 1")
    site.enter("tick", f"{site.station} 1")
    site.enter("tick", f"{site.station} 2", "Ines")
    site.enter("tick", f"{site.station} 3")


def test_a_hold_point_needs_a_second_person(site: Site) -> None:
    site.enter("begin")
    site.enter("tick", "change 1")
    site.enter("tick", f"{site.station} 1")
    for name in ("", "  ", "crew", "CREW"):
        with pytest.raises(WorkRefused, match="second person"):
            site.enter("tick", f"{site.station} 2", name)
    assert f"{site.station} 2" not in journal_of(site.order).ticks


def test_what_was_unticked_is_open_again_and_the_journal_keeps_both(site: Site) -> None:
    site.enter("begin")
    site.enter("tick", f"{site.station} 1")
    site.enter("untick", f"{site.station} 1")
    assert journal_of(site.order).ticks == {}
    assert WorkEntry.objects.filter(order=site.order).count() == 3


def test_an_entry_sent_twice_counts_once(site: Site) -> None:
    token = uuid4()
    assert site.enter("begin", token=token) == site.enter("begin", token=token)
    assert site.order.events.count() == 1
    note = uuid4()
    site.enter("note", text="box is tight", token=note)
    site.enter("note", text="box is tight", token=note)
    assert len(journal_of(site.order).notes) == 1


def test_a_clock_that_runs_ahead_is_not_believed(site: Site) -> None:
    entry = site.enter("note", text="x", done=timezone.now() + timedelta(days=2))
    assert entry.done <= timezone.now()
    early = timezone.now() - timedelta(hours=3)
    assert site.enter("note", text="typed in the cellar", done=early).done == early


def test_what_was_typed_without_a_connection_is_dated_by_the_campus_whatever_the_phone_shows(site: Site) -> None:
    """The phone says how long ago; the campus of a demo is months ahead of the wall, and its clock is what counts."""
    client = Client()
    campus_now = datetime(2027, 4, 7, 8, 30, tzinfo=UTC)
    typed = {"token": str(uuid4()), "act": "note", "text": "in the cellar", "ago_s": "5400.5"}
    with standing_at(campus_now):
        client.force_login(site.people["crew"])
        client.post(reverse("order-entry", args=[site.order.pk]), typed)
        at_once = {"token": str(uuid4()), "act": "note", "text": "with a line"}
        client.post(reverse("order-entry", args=[site.order.pk]), at_once)
    early, now = WorkEntry.objects.order_by("pk")
    assert (early.done, early.at) == (campus_now - timedelta(seconds=5400.5), campus_now)
    assert now.done == campus_now


@pytest.mark.parametrize("ago", ["-1", "nan", "inf", "1e12", "soon"])
def test_a_time_that_makes_no_sense_is_refused_in_words_and_keeps_nothing(site: Site, ago: str) -> None:
    client = Client()
    client.force_login(site.people["crew"])
    answer = client.post(
        reverse("order-entry", args=[site.order.pk]),
        {"token": str(uuid4()), "act": "note", "text": "x", "ago_s": ago},
    )
    assert answer.status_code == 400
    assert not WorkEntry.objects.exists()


@pytest.mark.parametrize(
    ("act", "code", "text", "words"),
    [
        ("tick", "no such step", "", "no step"),
        ("untick", "change 1", "", "not ticked"),
        ("serial", "no such station", "1", "no station"),
        ("serial", "", "1", "no station"),
        ("note", "", "   ", "Type the note"),
        ("note", "", "x" * 2001, "2001"),
        ("photograph", "", "", "photograph first"),
        ("accept", "", "", "steps are not ticked"),
        ("back out", "", " ", "why"),
        ("explode", "", "", "nothing called"),
    ],
)
def test_what_cannot_be_is_refused_in_words_and_leaves_nothing(
    site: Site, act: str, code: str, text: str, words: str
) -> None:
    site.enter("begin")
    with pytest.raises(WorkRefused, match=words):
        site.enter(act, code, text)
    assert WorkEntry.objects.filter(order=site.order).count() == 1


def test_a_photograph_is_kept_small_and_without_what_the_camera_wrote_into_it(site: Site) -> None:
    exif = Image.Exif()
    exif[0x010E] = "a secret place"
    content = BytesIO()
    Image.new("RGB", (4000, 3000), "grey").save(content, "JPEG", exif=exif)
    assert b"a secret place" in content.getvalue()
    site.enter("photograph", text="old station", photograph=content.getvalue())
    kept = Photograph.objects.get()
    assert (kept.width, kept.height) == (LONG_SIDE_PX, 1200)
    assert b"secret" not in bytes(kept.content)
    assert Image.open(BytesIO(bytes(kept.content))).format == "JPEG"


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_photographs_of_every_usual_kind_are_read(kind: str) -> None:
    assert picture_of(picture((40, 30), kind)).width == 40


@pytest.mark.parametrize(
    "sent",
    [b"", b"GIF89a", b"<svg xmlns='http://www.w3.org/2000/svg'/>", picture()[:200], b"\x89PNG\r\n\x1a\n" + b"\0" * 50],
)
def test_what_is_no_photograph_is_refused_in_words(sent: bytes) -> None:
    with pytest.raises(NoPhotograph, match=r"photograph|empty"):
        picture_of(sent)


def test_a_picture_beyond_all_measure_is_refused_before_it_is_unpacked() -> None:
    with pytest.raises(NoPhotograph, match="9000 x 9000 points"):
        picture_of(picture((9000, 9000), "PNG"))
    header = b"IHDR" + (30_000).to_bytes(4, "big") * 2 + b"\x08\x02\x00\x00\x00"  # ISO/IEC 15948: size, depth, colour
    bomb = b"\x89PNG\r\n\x1a\n" + (13).to_bytes(4, "big") + header + crc32(header).to_bytes(4, "big")
    with pytest.raises(NoPhotograph, match="far more than 60 million points"):
        picture_of(bomb + (4).to_bytes(4, "big") + b"IDAT" + b"\0" * 8)


def test_pages_of_the_work_show_the_steps_and_a_crew_member_can_tick(site: Site) -> None:
    client = Client()
    client.force_login(site.people["crew"])
    page = client.get(reverse("order-work", args=[site.order.pk])).content.decode()
    assert "Caution" in page
    assert "I have read the cautions" in page
    sent = {"token": str(uuid4()), "act": "begin"}
    address = reverse("order-entry", args=[site.order.pk])
    assert client.post(address, sent).status_code == 302
    assert client.post(address, sent).status_code == 302, "a double click does no harm"
    told = client.post(
        address, {"token": str(uuid4()), "act": "tick", "code": "change 1"}, headers={"X-Kept-Entry": "1"}
    )
    assert told.json()["refused"] is None
    assert "ticked" in told.json()["state"]
    wrong = client.post(address, {"token": "x", "act": "tick"}, headers={"X-Kept-Entry": "1"})
    assert wrong.json()["refused"].startswith("Load the page again")


def test_a_reader_sees_the_work_and_enters_nothing(site: Site) -> None:
    client = Client()
    client.force_login(site.people["reader"])
    page = client.get(reverse("order-work", args=[site.order.pk])).content.decode()
    assert "I have read" not in page
    sent = {"token": str(uuid4()), "act": "begin"}
    assert client.post(reverse("order-entry", args=[site.order.pk]), sent).status_code == 403


def test_a_wrong_landing_is_said_before_the_steps_and_what_a_crossed_lead_would_do_on_the_pack(site: Site) -> None:
    land(site.order, {"CAN_H": 1, "CAN_L": 3})
    client = Client()
    client.force_login(site.people["crew"])
    # TIA-568: pin 1 pairs with 2; a lead made up A to B takes 1 to 3 and 3 to 1
    fault = "CAN_H on pin 1 and CAN_L on pin 3 are not one twisted pair: pin 1 pairs with pin 2."
    steps = client.get(reverse("order-work", args=[site.order.pk])).content.decode()
    assert steps.index(f"Landing by method M-9: {fault}") < steps.index("I have read the cautions")
    pack = client.get(reverse("order-pack", args=[site.order.pk])).content.decode()
    assert fault in pack
    assert "would carry CAN_H from pin 1 to pin 3, CAN_L from pin 3 to pin 1" in pack


def test_packs_of_a_phase_are_one_print_with_cautions_first(site: Site) -> None:
    client = Client()
    client.force_login(site.people["planning"])
    page = client.get(reverse("plan-packs", args=[site.order.plan_id]), {"phase": "Phase 1"}).content.decode()
    assert page.count('<article class="pack"') == page.count('class="packblock"') == 5  # the accepted one is built
    assert "1 accepted already" in page
    pack = page[page.index('aria-labelledby="pack-') :]
    assert pack.index("Caution") < pack.index("Tools") < pack.index("Steps") < pack.index("How to go back")
    none = client.get(reverse("plan-packs", args=[site.order.plan_id]), {"night": "never"}).status_code
    assert none == 200


def test_who_works_is_the_person_signed_in() -> None:
    site = Site()
    site.enter("begin", by="planning")
    assert User.objects.get(username="planning") == site.order.events.get().by


def test_a_second_try_begins_with_every_step_open(site: Site) -> None:
    """What was ticked before the order was backed out has been put back on site; a tick that stays would skip a hold point."""
    site.all_ticked()
    site.enter("serial", site.station, "70-4711")
    site.enter("back out", text="the opening is cracked")
    assert (journal_of(site.order).ticks, journal_of(site.order).serials) == ({}, {})
    site.order = follower(site.order)
    Order.objects.filter(pk=site.order.pk).update(state=OrderState.BOOKED)
    site.enter("begin")
    with pytest.raises(WorkRefused, match="Box adapter"):
        site.enter("tick", f"{site.station} 2", "Ines")
    with pytest.raises(WorkRefused, match="6 steps are not ticked"):
        site.enter("accept")


def follower(order: Order) -> Order:
    """Let another plan, adopted after it, go on from the plan of an order; return the order's row there."""
    now = timezone.now()
    plan = Plan.objects.get(pk=order.plan_id)
    plan.pk, plan.goes_on_from_id, plan.adopted = None, order.plan_id, now
    plan.save()
    row = Order.objects.get(pk=order.pk)
    row.pk, row.plan, row.goes_on_from_id = None, plan, order.pk
    row.save()
    return row


def test_what_was_ticked_under_an_earlier_plan_stays_ticked(site: Site) -> None:
    site.all_ticked()
    site.enter("serial", site.station, "70-4711")
    site.enter("note", text="box is tight")
    row = follower(site.order)
    journal = journal_of(row)
    assert len(journal.ticks) == len(pack_of(row).steps) == 6
    assert journal.ticks[f"{site.station} 2"].by == "crew"
    assert journal.serials == {site.station: "70-4711"}
    assert [note.text for note in journal.notes] == ["box is tight"]


def test_what_a_phone_still_sends_to_the_plan_before_arrives_under_the_plan_in_force(site: Site) -> None:
    site.enter("begin")
    row = follower(Order.objects.get(pk=site.order.pk))
    site.enter("tick", "change 1")
    assert "change 1" in journal_of(row).ticks
    client = Client()
    client.force_login(site.people["crew"])
    assert client.get(reverse("order-work", args=[site.order.pk])).headers["Location"] == reverse(
        "order-work", args=[row.pk]
    )
    Order.objects.filter(pk=row.pk).update(crew="Night B")
    sent = {"token": str(uuid4()), "act": "note", "text": "x"}
    assert client.post(reverse("order-entry", args=[site.order.pk]), sent).status_code == 403


def test_an_order_accepted_under_an_earlier_plan_is_put_back_under_the_plan_in_force(site: Site) -> None:
    before = Node.objects.values("model", "installed", "serial", "condition", "note").get(key=site.station)
    site.all_ticked()
    site.enter("accept")
    row = follower(Order.objects.get(pk=site.order.pk))
    enter(row, Typed(token=uuid4(), act="back out", text="sliders react late"), by=site.people["crew"])
    assert Node.objects.values("model", "installed", "serial", "condition", "note").get(key=site.station) == before
    assert Order.objects.get(pk=row.pk).state == OrderState.BACKED_OUT
    assert OrderEvent.objects.filter(order=row, state=OrderState.BACKED_OUT).exists()


LOOP = "loop resistance|B1-L0-G|{}"


@pytest.fixture
def measured() -> Site:
    return Site(measured_order)


def test_a_figure_is_put_on_record_once_however_often_it_is_sent(measured: Site) -> None:
    token = uuid4()
    done = timezone.now() - timedelta(hours=2)
    for _ in range(2):
        measured.enter(
            "figure", LOOP.format(measured.station), "1,75 ohm", token=token, done=done, instrument="Bridge 4"
        )
    kept = Reading.objects.get()
    assert (kept.quantity, kept.value, kept.instrument) == ("loop resistance", 1.75, "Bridge 4")
    assert (kept.node.key, kept.far.key, kept.by) == ("B1-L0-G", measured.station, measured.people["crew"])  # type: ignore[union-attr]
    assert kept.on == timezone.localdate(done)


@pytest.mark.parametrize(
    ("code", "text", "words"),
    [
        (LOOP, "", "no figure in ohm"),
        (LOOP, "plenty", "no figure in ohm"),
        (LOOP, "-2", "below 0"),
        (LOOP, "1e300", "open pair"),
        ("loop resistance|B1-L0-G|B9-S9", "1.7", "no such figure"),
        ("", "1.7", "no such figure"),
    ],
)
def test_a_figure_that_cannot_be_is_refused_in_words(measured: Site, code: str, text: str, words: str) -> None:
    with pytest.raises(WorkRefused, match=words):
        measured.enter("figure", code.format(measured.station), text)
    assert not Reading.objects.exists()
    assert not WorkEntry.objects.exists()


def test_a_figure_outside_its_span_says_stop_on_the_page_of_the_work(measured: Site) -> None:
    client = Client()
    client.force_login(measured.people["crew"])
    at = reverse("order-work", args=[measured.order.pk])
    assert "Expected 1.7" in client.get(at).content.decode()
    measured.enter("figure", LOOP.format(measured.station), "61", instrument="Bridge 4")
    page = client.get(at).content.decode()
    assert "Stop: it contradicts the records." in page
    assert 'value="Bridge 4"' in page, "the instrument need not be typed again"


def test_a_hold_point_tells_how_many_figures_are_read_and_leads_to_them(measured: Site) -> None:
    client = Client()
    client.force_login(measured.people["crew"])
    at = reverse("order-work", args=[measured.order.pk])

    def told() -> list[str]:
        steps = client.get(at).content.decode().split('<ol class="work-steps">', 1)[1].split('id="figures"')[0]
        return [" ".join(unescape(part.split("</p>")[0]).split()) for part in steps.split('<p><a href="#figures-')[1:]]

    segment = "B1-L0"
    holds = sum(step.hold for step in pack_of(measured.order).steps)
    count = len(sheets_of(measured.order.plan.assessment_id, [segment])[0].measures)
    assert told() == [f'{segment.lower()}">Figures of {segment}</a>: 0 of {count} read.'] * holds
    assert f'id="figures-{segment.lower()}"' in client.get(at).content.decode()
    measured.enter("figure", LOOP.format(measured.station), "61")
    assert told()[0].endswith(f"</a>: 1 of {count} read, <strong>one of them says stop</strong>.")


def test_no_figure_is_entered_with_an_order_that_is_accepted(measured: Site) -> None:
    measured.all_ticked()
    measured.enter("accept")
    with pytest.raises(NotNow, match="page of its segment"):
        measured.enter("figure", LOOP.format(measured.station), "1.7")


@pytest.mark.parametrize(
    ("act", "code", "text"),
    [("note", "", "x" * 2001), ("tick", "no such step", "Ines"), ("back out", "", "  ")],
)
def test_a_refusal_stands_beside_the_field_with_what_was_typed(site: Site, act: str, code: str, text: str) -> None:
    site.enter("begin")
    client = Client()
    client.force_login(site.people["crew"])
    sent = {"token": str(uuid4()), "act": act, "code": code or "", "text": text}
    answer = client.post(reverse("order-entry", args=[site.order.pk]), sent)
    page = answer.content.decode()
    assert answer.status_code == 400
    if act == "tick":
        assert '<p class="note error" role="alert">This order has no step' in page, "on top: the page has no such field"
    else:
        assert 'class="note error" role="alert"' not in page, "no message on top"
        form = page[page.index(f'data-does="{act}"') :]
        form = form[: form.index("</form>")]
        assert 'role="alert"' in form
        assert text.strip() in form
