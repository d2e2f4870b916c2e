"""The address of the first page; outside any name space, since sign-in leads to it."""

from django.urls import path

from rollers.views.home import home

urlpatterns = [path("", home, name="home")]
