"""The Celery application: messages only carry the number of a Job; the row is the truth."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.site.settings")
app = Celery("changeover")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["planner"])
