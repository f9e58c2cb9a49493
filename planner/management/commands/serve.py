"""`manage.py serve`: the site and a worker, with no server to install."""

import logging
import os
import signal
import subprocess
import sys
import threading
from types import FrameType
from typing import Any

import waitress
from django.core.management import call_command
from django.core.management.base import CommandParser
from django.core.wsgi import get_wsgi_application

from planner.management.answers import AnsweringCommand, wrong_use
from planner.tasks import KEEPER

log = logging.getLogger(__name__)
APPLICATION = "planner.site.celery"
WORKER_STOP_S = 10.0
WORKER_AGAIN_S = 2.0


class Command(AnsweringCommand):
    help = """Run the site and a background worker until Ctrl-C.

Brings the database up to date first. With BROKER_URL set the same worker listens to Redis or RabbitMQ, and
more workers can be started on other machines. To sign in, make the first person with manage.py createsuperuser.
Example:

    manage.py serve --port 8080"""
    requires_migrations_checks = False

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (default: %(default)s)")
        parser.add_argument("--port", type=int, default=8000, help="port to listen on (default: %(default)s)")
        parser.add_argument(
            "--workers", type=int, default=2, metavar="N", help="background jobs at a time (default: %(default)s)"
        )
        parser.add_argument("--no-worker", action="store_true", help="run the site alone; workers run elsewhere")

    def handle(self, *_: Any, host: str, port: int, workers: int, no_worker: bool, **__: Any) -> None:
        call_command("migrate", verbosity=0)
        try:
            server = waitress.create_server(get_wsgi_application(), host=host, port=port, threads=8, ident=None)
        except OSError as error:
            raise wrong_use(f"Cannot listen on {host}:{port}: {error.strerror}. Choose another with --port.") from error
        signal.signal(signal.SIGTERM, _leave)
        self.stdout.write(f"Changeover is at http://{host}:{port}/ (Ctrl-C ends it)")
        self.stdout.flush()
        keeper = None if no_worker else WorkerKeeper(workers)
        try:
            server.run()
        finally:
            if keeper:
                keeper.stop()


def _leave(_signal: int, _frame: FrameType | None) -> None:
    raise SystemExit(0)


class WorkerKeeper:
    """Keeps one worker process running beside the site, and starts it again if it dies."""

    def __init__(self, concurrency: int) -> None:
        self.concurrency = concurrency
        self._over = threading.Event()
        self._process = self._start()
        threading.Thread(target=self._watch, daemon=True).start()

    def _start(self) -> subprocess.Popen[bytes]:
        pool = "threads" if sys.platform == "win32" else "prefork"
        command = [sys.executable, "-m", "celery", "--quiet", "-A", APPLICATION, "worker", "--loglevel", "WARNING"]
        options = ["--pool", pool, "--concurrency", str(self.concurrency), "--without-gossip", "--without-mingle"]
        environment = {**os.environ, KEEPER: str(os.getpid())}
        return subprocess.Popen([*command, *options], env=environment)  # noqa: S603 - our own interpreter and words

    def _watch(self) -> None:
        while not self._over.wait(WORKER_AGAIN_S):
            if self._process.poll() is not None:
                log.warning("the worker ended with code %s; starting it again", self._process.returncode)
                self._process = self._start()

    def stop(self) -> None:
        """End the worker; a job that it cannot finish in time goes on after the next start."""
        self._over.set()
        self._process.terminate()
        try:
            self._process.wait(WORKER_STOP_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
