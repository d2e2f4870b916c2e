"""Every address of the application."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import URLPattern, URLResolver, include, path

from plant.web.gallery import gallery

urlpatterns: list[URLPattern | URLResolver] = [
    path("training/", include("training.urls")),
    path("", include("rollers.urls_home")),
    path("", include("rollers.urls")),
    path("tablet/", include("rollers.urls_tablet")),
    path("tablet/", include("rollers.causes.urls_tablet")),
    path("causes/", include("rollers.causes.urls")),
    path("people/", include("plant.people.urls")),
    path("floor/", include("plant.floor.urls")),
    path("reports/", include("plant.reports.urls")),
    path("records/", include("plant.records.urls")),
    path("api/v1/training/", include("training.api.urls")),
    path("api/v1/", include("rollers.api.urls")),
    path("api/", include("plant.api.urls")),
]


def show_parts(request: HttpRequest, page: str = "gallery") -> HttpResponse:
    """Every part of which screens are made, in every state; for who builds screens."""
    return render(request, f"ui/{page}.html", {"g": gallery()})


if settings.DEBUG:
    urlpatterns += [path("ui-gallery/", show_parts), path("ui-gallery/<slug:page>/", show_parts)]
