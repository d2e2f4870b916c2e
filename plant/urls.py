"""Every address of the application."""

from django.urls import include, path

urlpatterns = [
    path("reports/", include("plant.reports.urls")),
    path("api/v1/", include("rollers.api.urls")),
    path("api/", include("plant.api.urls")),
]
