"""Addresses of people."""

from django.urls import path

from plant.people.views import access, entry, persons

app_name = "people"
urlpatterns = [
    path("sign-in/", entry.sign_in, name="sign-in"),
    path("sign-out/", entry.sign_out, name="sign-out"),
    path("me/", persons.me, name="me"),
    path("me/language/", persons.language, name="language"),
    path("me/password/", entry.choose, name="choose-secret"),
    path("me/pin/", entry.choose_own_pin, name="choose-pin"),
    path("", persons.people, name="list"),
    path("join/", persons.joiner, name="join"),
    path("review/", access.review, name="review"),
    path("<int:key>/", persons.person, name="person"),
    path("<int:key>/leave/", persons.leaver, name="leave"),
    path("<int:key>/roles/", access.roles, name="roles"),
    path("<int:key>/badge/", access.badge, name="badge"),
    path("<int:key>/starter/", access.starter, name="starter"),
]
