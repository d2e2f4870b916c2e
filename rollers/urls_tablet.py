"""Addresses of the shop floor."""

from django.urls import path

from rollers.views import tablet, tablet_jobs

app_name = "tablet"
urlpatterns = [
    path("", tablet.lines, name="lines"),
    path("line/<str:code>/", tablet.line, name="line"),
    path("roller/<str:code>/", tablet.roller, name="roller"),
    path("roller/<str:code>/job/<slug:track>/", tablet_jobs.job, name="job"),
    path("roller/<str:code>/<slug:act>/", tablet_jobs.act, name="act"),
]
