"""Addresses of the trail."""

from django.urls import path

from plant.records.views import keeping, retention, trail

app_name = "records"
urlpatterns = [
    path("", trail.trail, name="trail"),
    path("export/", trail.export, name="export"),
    path("check_proof.py", trail.script, name="script"),
    path("reviews/", keeping.reviews, name="reviews"),
    path("roots/", keeping.roots, name="roots"),
    path("roots/file/", keeping.roots_file, name="roots-file"),
    path("roots/verify/", keeping.verify, name="verify"),
    path("retention/", retention.retention, name="retention"),
    path("retention/<slug:matter>/export/", retention.export, name="export-due"),
    path("retention/orders/<int:pk>/", retention.order, name="order"),
    path("events/<int:pk>/", trail.event, name="event"),
    path("events/<int:pk>/proof/", trail.proof, name="proof"),
]
