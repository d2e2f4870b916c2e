"""`manage.py tick`: do what is due, once. For cron, where neither the embedded server nor Celery beat runs."""

from django.core.management.base import BaseCommand

from plant.jobs.running import tick
from plant.web import clock


class Command(BaseCommand):
    help = "Do everything that is due now."

    def handle(self, *args: object, **options: object) -> None:
        self.stdout.write(f"{tick(clock.now())} jobs run")
