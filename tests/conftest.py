"""What holds for every test: hypothesis takes the time it needs (a loaded machine is no failure), passwords are quick."""

from collections.abc import Iterator

import pytest
from django.conf import settings as site_settings
from django.db import connection
from django.test import override_settings
from hypothesis import HealthCheck, settings
from pytest_django import DjangoDbBlocker

from planner.services.clock import go_by_wall_clock

settings.register_profile("suite", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("suite")

WITH_PROCESSES = ("test_pages.py", "test_serve.py")  # these wait for sites and workers that they start
OTHER_SESSIONS = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with what waits for processes, so that nobody waits for it at the end; they have databases of their own."""
    items.sort(key=lambda item: item.path.name not in WITH_PROCESSES)


@pytest.fixture(scope="session", autouse=True)
def _clock_of_the_machine() -> None:
    """Leave the clock of a demo alone that a contributor has made in the same folder."""
    go_by_wall_clock()


@pytest.fixture(scope="session", autouse=True)
def _quick_passwords() -> Iterator[None]:
    """Hash the passwords of people in tests at once; processes that tests start hash as the site does: slowly by design."""
    quick = "django.contrib.auth.hashers.MD5PasswordHasher"
    with override_settings(PASSWORD_HASHERS=[quick, *site_settings.PASSWORD_HASHERS]):
        yield


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """End sessions that a browser's thread left open, since PostgreSQL drops no database in use."""
    yield
    with django_db_blocker.unblock():
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute(OTHER_SESSIONS)
