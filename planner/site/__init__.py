"""How the site is put together. Importing it makes the Celery application the current one."""

from planner.site.celery import app as celery_app

__all__ = ["celery_app"]
