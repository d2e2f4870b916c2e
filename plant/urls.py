"""Every address of the application."""

from django.urls import include, path

urlpatterns = [
    path("api/v1/", include("rollers.api.urls")),
    path("api/", include("plant.api.urls")),
]
