"""The shared nouns of a plant and the project's root files."""

from plant.celery import app as celery_app

__all__ = ["celery_app"]
