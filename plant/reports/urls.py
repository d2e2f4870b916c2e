"""Addresses of stored reports."""

from django.urls import path

from plant.reports import views

app_name = "reports"
urlpatterns = [
    path("photo/<int:pk>/", views.photo, name="photo"),
    path("<int:pk>/", views.show, name="show"),
    path("<int:pk>/file/", views.fetch, name="fetch"),
    path("<slug:kind>/<str:subject_id>/", views.ask, name="ask"),
]
