"""Every address of the application."""

from django.urls import path

urlpatterns: list = []
