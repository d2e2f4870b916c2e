"""Addresses of the shop floor: reporting and walking."""

from django.urls import path

from rollers.causes.views import tablet

app_name = "causes-tablet"
urlpatterns = [
    path("seen/<str:code>/", tablet.report, name="report"),
    path("walk/<str:code>/", tablet.walk_line, name="walk-line"),
    path("walks/<int:pk>/", tablet.walk, name="walk"),
    path("walks/<int:pk>/finish/", tablet.finish_walk, name="finish-walk"),
    path("walks/<int:pk>/said/", tablet.walk_said, name="walk-said"),
]
