"""Addresses of the API of rollers."""

from django.urls import path

from rollers.api import views

app_name = "rollers-api"
urlpatterns = [
    path("lines/<str:code>/readiness/", views.line_readiness, name="readiness"),
    path("lines/<str:code>/runs/", views.plan, name="plan-run"),
    path("runs/<int:pk>/release/", views.release, name="release-run"),
    path("positions/<str:code>/recipe/", views.recipe_in_force, name="recipe"),
    path("check/", views.check_case, name="check"),
    path("size/", views.size_case, name="size"),
]
