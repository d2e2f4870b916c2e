"""Addresses of training."""

from django.urls import path

from training.views import certificates

app_name = "training"
urlpatterns = [
    path("", certificates.grid, name="grid"),
    path("people/<int:key>/", certificates.person, name="person"),
    path("people/<int:key>/issue/", certificates.issue, name="issue"),
    path("people/<int:key>/founding/", certificates.founding, name="founding"),
    path("certificates/<int:key>/<slug:verb>/", certificates.act, name="act"),
]
