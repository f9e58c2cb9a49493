# ruff: noqa: S310 - every address is this test's own
"""The product as a newcomer runs it: the demo, the site and its worker as real processes, over real sockets.

Embedded by default; with DATABASE_URL and BROKER_URL the same walk goes over PostgreSQL and Redis or RabbitMQ.
"""

import json
import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from http.cookiejar import CookieJar
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import icalendar
import openpyxl
import psycopg
import pytest

ROOT = Path(__file__).resolve().parents[2]
SHEETS_WITH_ROWS = ("Summary", "Phases", "Orders", "Segments", "Take-off", "Purchases", "Downtime windows")
OWN_DATABASE = "changeover_serve_test"
PATIENCE_S = 90.0
POLL_S = 0.1  # far less than any plan takes


@dataclass
class Installation:
    """One copy of the product with its own home, database and port."""

    environment: dict[str, str]
    port: int
    passwords: dict[str, str] = field(default_factory=dict)
    server: subprocess.Popen[bytes] | None = None

    def manage(self, *words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT,
            env=self.environment,
            capture_output=True,
            text=True,
            check=False,
        )

    def run(self, script: str, *words: str) -> subprocess.CompletedProcess[str]:
        """Run a script in a process of its own, with the product's settings."""
        environment = {**self.environment, "DJANGO_SETTINGS_MODULE": "planner.site.settings"}
        command = [sys.executable, "-c", script, *words]
        return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)

    def start(self) -> None:
        command = [sys.executable, "manage.py", "serve", "--port", str(self.port), "--workers", "1"]
        self.server = subprocess.Popen(command, cwd=ROOT, env=self.environment, stdout=subprocess.DEVNULL)
        wait_for(self.answers, "the site to answer")

    def stop(self) -> None:
        assert self.server is not None
        self.server.send_signal(signal.SIGTERM)
        self.server.wait(PATIENCE_S)

    def answers(self) -> bool:
        try:
            urllib.request.urlopen(self.address("/sign-in/"), timeout=5).close()
        except OSError:
            return False
        return True

    def address(self, path: str) -> str:
        return f"http://127.0.0.1:{self.port}{path}"

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        """Return what the database holds, read past the product."""
        url = self.environment.get("DATABASE_URL", "")
        if url.startswith("postgres"):
            with psycopg.connect(url) as server:
                return server.execute(query.encode()).fetchall()
        with closing(sqlite3.connect(Path(self.environment["CHANGEOVER_HOME"]) / "campus.sqlite3")) as file:
            return file.execute(query).fetchall()

    def job(self, pk: int) -> dict[str, Any]:
        """Return a job's row, read past the product."""
        names = ("state", "worker", "reason", "result", "doing")
        (row,) = self.rows(f"SELECT {', '.join(names)} FROM planner_job WHERE id = {pk:d}")  # noqa: S608 - our own words
        found = dict(zip(names, row, strict=True))
        if isinstance(found["result"], str):
            found["result"] = json.loads(found["result"])
        return found

    def state(self, pk: int) -> str:
        return str(self.job(pk)["state"])


class Person:
    """Somebody at a browser without scripts: signs in, reads pages, sends forms."""

    def __init__(self, site: Installation, role: str) -> None:
        self.site = site
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
        self.send("/sign-in/", username=role, password=site.passwords[role])

    def read(self, path: str) -> tuple[int, str, str]:
        """Return status, final address and text of a page."""
        return self._open(urllib.request.Request(self.site.address(path)))

    def send(self, path: str, page: str | None = None, **fields: str) -> tuple[int, str, str]:
        """Send a form as the page that holds it would."""
        token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', self.read(page or path)[2])
        assert token is not None, f"no form on {page or path}"
        data = urlencode({**fields, "csrfmiddlewaretoken": token[1]}).encode()
        request = urllib.request.Request(self.site.address(path), data, {"Referer": self.site.address(path)})
        return self._open(request)

    def ask(self, path: str, page: str, **fields: str) -> int:
        """Send a form that begins a job, and return the job's number."""
        _, address, _ = self.send(path, page, **fields)
        found = re.search(r"/jobs/(\d+)/", address)
        assert found is not None, f"{path} led to {address}, not to a job"
        return int(found[1])

    def _open(self, request: urllib.request.Request) -> tuple[int, str, str]:
        try:
            with self.opener.open(request, timeout=60) as answer:
                return answer.status, answer.url, answer.read().decode()
        except urllib.error.HTTPError as refusal:
            with refusal:
                return refusal.code, request.full_url, refusal.read().decode()


def wait_for(holds: Callable[[], bool], what: str) -> None:
    for _ in range(int(PATIENCE_S / POLL_S)):
        if holds():
            return
        time.sleep(POLL_S)
    pytest.fail(f"waited {PATIENCE_S:g} s in vain for {what}")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def own_database(url: str) -> str:
    """Make an empty PostgreSQL database beside the one that the suite runs on."""
    with psycopg.connect(url, autocommit=True) as server:
        server.execute(f"DROP DATABASE IF EXISTS {OWN_DATABASE} WITH (FORCE)")
        server.execute(f"CREATE DATABASE {OWN_DATABASE}")
    return url.rsplit("/", 1)[0] + "/" + OWN_DATABASE


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Installation]:
    environment = {**os.environ, "CHANGEOVER_HOME": str(tmp_path_factory.mktemp("home")), "PYTHONWARNINGS": "default"}
    environment.pop("DJANGO_SETTINGS_MODULE", None)
    if os.environ.get("DATABASE_URL", "").startswith("postgres"):
        environment["DATABASE_URL"] = own_database(os.environ["DATABASE_URL"])
    installation = Installation(environment=environment, port=free_port())
    yield installation
    if installation.server and installation.server.poll() is None:
        installation.stop()


@pytest.fixture(scope="module")
def demo(site: Installation, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("handed")
    ran = site.manage("demo", "--no-serve", "--seconds", "3", "--to", str(folder))
    assert ran.returncode == 0, ran.stderr
    site.passwords.update(re.findall(r"^  (\w+) +(\S+)$", ran.stdout, re.MULTILINE))
    return folder


@pytest.fixture(scope="module")
def running(site: Installation, demo: Path) -> Installation:
    site.start()
    return site


def test_the_demo_leaves_one_workbook_whose_sheets_have_rows(demo: Path) -> None:
    (path,) = demo.glob("*.xlsx")
    book = openpyxl.load_workbook(path)
    for title in SHEETS_WITH_ROWS:
        assert book[title].max_row > 1, title


def test_the_demo_leaves_calendars_that_icalendar_reads(demo: Path) -> None:
    calendars = [icalendar.Calendar.from_ical(path.read_bytes()) for path in demo.glob("*.ics")]
    assert sum(len(calendar.walk("VEVENT")) for calendar in calendars) > 0


def counted(site: Installation, *words: str) -> dict[str, dict[str, int]]:
    ran = site.manage("intake", *words, "--json", "-")
    assert ran.returncode == 0, ran.stdout
    found: dict[str, dict[str, int]] = json.loads(ran.stdout)["counts"]
    return found


def test_the_demo_goes_out_as_a_workbook_and_comes_back_without_a_change(
    site: Installation, demo: Path, tmp_path: Path
) -> None:
    path = str(tmp_path / "filled.xlsx")
    assert site.manage("blank", path, "--filled").returncode == 0
    counts = counted(site, path, "--check")
    assert sum(one["unchanged"] for one in counts.values()) > 1000
    assert sum(one["new"] + one["changed"] + one["absent"] for one in counts.values()) == 0


def test_the_workbook_of_november_differs_from_the_demo_by_what_was_built_bought_and_paid_since(
    site: Installation, demo: Path
) -> None:
    changed = {title for title, one in counted(site, "fixtures/campus.xlsx", "--check").items() if one["changed"]}
    assert {"Nodes", "Buses", "Parts", "Spares", "Phases"} >= changed >= {"Nodes", "Buses", "Parts", "Phases"}


def test_phase_one_of_the_demo_is_accepted_but_for_one_order_that_says_why(site: Installation, demo: Path) -> None:
    first, current = site.rows("SELECT id, goes_on_from_id, adopted FROM planner_plan ORDER BY id")
    assert (first[1], current[1]) == (None, first[0])
    assert first[2] < current[2]
    states = site.rows(f"SELECT state, stations FROM planner_order WHERE plan_id = {first[0]} AND phase = 'Phase 1'")  # noqa: S608
    assert sorted({state for state, _ in states}) == ["accepted", "backed out"]
    assert [state for state, _ in states].count("backed out") == 1
    ((reason,),) = site.rows("SELECT why FROM planner_orderevent WHERE state = 'backed out' AND mended IS NULL")
    assert "loop resistance" in reason
    converted = sum(stations for state, stations in states if state == "accepted")
    assert site.rows(
        "SELECT COUNT(*) FROM inventory_node n JOIN inventory_equipmentmodel m ON m.id = n.model_id "
        "WHERE m.key IN ('WS-70', 'WS-72') AND n.installed BETWEEN '2027-01-25' AND '2027-03-26'"
    ) == [(converted,)]


def test_the_figure_that_the_demo_was_backed_out_for_is_on_record_and_the_one_after_its_joint_was_remade(
    site: Installation, demo: Path
) -> None:
    wrong, good = site.rows(
        'SELECT r.value, r."on", n.key, f.key, r.instrument FROM inventory_reading r JOIN inventory_node n ON n.id = r.node_id '
        "JOIN inventory_node f ON f.id = r.far_id WHERE r.far_id IN (SELECT far_id FROM inventory_reading WHERE value = 61) "
        'ORDER BY r."on"'
    )
    ((reason, order, night),) = site.rows(
        "SELECT e.why, e.order_id, o.night FROM planner_orderevent e JOIN planner_order o ON o.id = e.order_id "
        "WHERE e.state = 'backed out' AND e.mended IS NULL"
    )
    assert f"from {wrong[2]} to {wrong[3]} reads 61 ohm" in reason
    assert (wrong[0], good[2:]) == (61, wrong[2:])
    assert good[0] < 61 / 2
    assert good[1] > night <= wrong[1]
    assert site.rows(f"SELECT text FROM planner_workentry WHERE order_id = {order:d} AND act = 'figure'") == [("61",)]  # noqa: S608
    ((again,),) = site.rows(f"SELECT start FROM planner_order WHERE goes_on_from_id = {order:d}")  # noqa: S608
    assert again, "with its joint remade it is dated again"


def test_one_delivery_of_the_demo_is_late_and_what_waits_for_it_was_put_off(site: Installation, demo: Path) -> None:
    ((part,),) = site.rows("SELECT part_id FROM inventory_delivery WHERE due < '2027-04-07'")
    ((key,),) = site.rows(f"SELECT key FROM inventory_part WHERE id = {part:d}")  # noqa: S608 - a number
    put_off = site.rows("SELECT o.night, e.why FROM planner_order o JOIN planner_orderevent e ON e.not_before IS NOT NULL "
        "JOIN planner_order b ON b.id = e.order_id WHERE o.goes_on_from_id = b.id")  # fmt: skip
    assert put_off
    assert all(why.startswith(f"{key} of PO-") for _, why in put_off)
    assert all(night is None or str(night) >= "2027-04-26" for night, _ in put_off)


def test_the_demo_made_again_stays_as_it_was_left(site: Installation, demo: Path) -> None:
    before = site.rows("SELECT id, made FROM planner_plan ORDER BY id")
    ran = site.manage("demo", "--no-serve")
    assert ran.returncode == 0
    assert "stays as it was left" in ran.stdout
    assert site.rows("SELECT id, made FROM planner_plan ORDER BY id") == before
    site.passwords.update(re.findall(r"^  (\w+) +(\S+)$", ran.stdout, re.MULTILINE))


DIES_WITH_A_BETTER_PLAN = """
import os, signal, sys
import django
django.setup()
from django.utils import timezone
from planner.models import Job
from planner.services import jobs, plan_so_far
from planner.tasks import run_job

plan_so_far.KEEP_EVERY_S = 0.0
keep, first = plan_so_far.keep_so_far, []

def keep_and_die(job, result):
    keep(job, result)
    first.append(result["best"]["objective"])
    if first[-1] < first[0]:
        print(job.pk, first[0], first[-1], flush=True)
        os.kill(os.getpid(), signal.SIGKILL)

plan_so_far.keep_so_far = keep_and_die
run_job(Job.objects.create(kind="plan", demand={"seconds": 60, "seed": 1}, made=timezone.now()).pk)
"""
GOES_ON = """
import sys
import django
django.setup()
from planner.models import Job, Plan
from planner.services import jobs
from planner.tasks import run_job

jobs.tend()
job = Job.objects.get(pk=int(sys.argv[1]))
print(job.state, job.attempts)
Job.objects.filter(pk=job.pk).update(demand={"seconds": 0.01, "seed": 1})  # no time to find anything again
run_job(job.pk)
job.refresh_from_db()
print(job.state, Plan.objects.get(pk=job.result["plan"]).objective)
"""


def test_a_plan_goes_on_from_the_best_that_a_killed_process_wrote_down(site: Installation, demo: Path) -> None:
    killed = site.run(DIES_WITH_A_BETTER_PLAN)
    assert killed.returncode == -signal.SIGKILL, killed.stderr
    pk, by_list, best = (int(word) for word in killed.stdout.split())
    assert best < by_list
    left = site.job(pk)
    assert left["state"] == "running"
    assert left["result"]["best"]["objective"] == best
    assert left["result"]["best"]["placed"]
    after = site.run(GOES_ON, str(pk))
    assert after.returncode == 0, after.stderr
    assert after.stdout.split()[:3] == ["queued", "1", "done"]
    assert int(after.stdout.split()[3]) <= best


def test_every_place_answers_every_role(running: Installation) -> None:
    for role in running.passwords:
        person = Person(running, role)
        statuses = {path: person.read(path)[0] for path in ("/", "/stations/", "/segments/", "/plans/", "/materials/")}
        assert set(statuses.values()) == {200}, (role, statuses)


def test_the_demo_is_shown_by_its_own_clock_and_says_so(running: Installation) -> None:
    page = Person(running, "reader").read("/")[2]
    assert re.search(r"Shown</dt><dd>7\s+Apr\s+2027, \d\d:\d\d, by the demo's own clock", page)


def test_a_plan_that_goes_on_is_shown_with_what_became_of_each_order(running: Installation) -> None:
    ((pk,),) = running.rows("SELECT MAX(id) FROM planner_plan WHERE goes_on_from_id IS NOT NULL")
    status, _, page = Person(running, "planning").read(f"/plans/{pk}/")
    assert status == 200
    assert re.search(r"Against no\. \d+: .*stays: \d+", page)


def test_without_signing_in_every_place_leads_to_the_sign_in(running: Installation) -> None:
    with urllib.request.urlopen(running.address("/stations/")) as answer:
        assert answer.url.endswith("/sign-in/?next=/stations/")


def test_assessing_runs_in_the_worker(running: Installation) -> None:
    job = Person(running, "facilities").ask("/segments/assess/", "/segments/")
    wait_for(lambda: running.state(job) == "done", "the assessment to be done")
    assert running.job(job)["result"]["counts"]["in place"] > 0


def test_a_killed_job_is_seen_as_failed_with_its_reason_and_can_be_started_again(running: Installation) -> None:
    planner = Person(running, "planning")
    job = planner.ask("/plans/brief/", "/plans/brief/", name="Killed", seconds="240", seed="1")
    wait_for(lambda: running.state(job) == "running", "the plan to be under way")
    os.kill(int(running.job(job)["worker"].rsplit("/", 1)[1]), signal.SIGKILL)
    wait_for(lambda: running.state(job) == "failed", "the killed job to be seen as failed")
    assert "killed" in running.job(job)["reason"]
    assert "killed" in planner.read(f"/jobs/{job}/")[2]
    planner.send(f"/jobs/{job}/again/", f"/jobs/{job}/")
    wait_for(lambda: running.state(job) == "running", "the job to be under way again")
    planner.send(f"/jobs/{job}/stop/", f"/jobs/{job}/")
    wait_for(lambda: running.state(job) == "done", "the stopped plan to be kept")
    assert planner.read(f"/plans/{running.job(job)['result']['plan']}/")[0] == 200


def test_a_job_survives_a_restart_of_site_and_worker(running: Installation) -> None:
    planner = Person(running, "planning")
    job = planner.ask("/plans/brief/", "/plans/brief/", name="Restarted", seconds="240", seed="1")
    wait_for(lambda: running.state(job) == "running", "the plan to be under way")
    running.stop()
    left = running.job(job)
    assert left["state"] in {"running", "queued"}, left
    running.start()
    wait_for(lambda: running.job(job)["worker"] != left["worker"], "another worker to take the job up")
    wait_for(lambda: running.state(job) == "running", "the plan to be under way again")
    planner = Person(running, "planning")
    planner.send(f"/jobs/{job}/stop/", f"/jobs/{job}/")
    wait_for(lambda: running.state(job) == "done", "the plan to be done after the restart")


def test_a_worker_whose_site_was_killed_ends_too(running: Installation) -> None:
    assert running.server is not None
    worker = next(
        int(path.name)
        for path in Path("/proc").iterdir()
        if path.name.isdecimal() and f"\nPPid:\t{running.server.pid}\n" in (path / "status").read_text()
    )
    running.server.kill()
    running.server.wait()
    wait_for(lambda: not Path(f"/proc/{worker}").exists(), "the worker to end")
