"""Celery, where a broker is configured: it only wakes `tick` and runs queued jobs at once."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.settings")
app = Celery("bandkeeper")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["plant.jobs"])
