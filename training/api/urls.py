"""Addresses of the API of training."""

from django.urls import path

from training.api import views

app_name = "training-api"
urlpatterns = [
    path("may/", views.may, name="may"),
    path("dues/", views.dues, name="dues"),
]
