"""The description of the API. What it can do is added by the applications above."""

from django.urls import path
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView

app_name = "api"
urlpatterns = [
    path("schema/", SpectacularAPIView.as_view(), name="schema"),
    path("", SpectacularSwaggerSplitView.as_view(url_name="api:schema"), name="page"),
]
