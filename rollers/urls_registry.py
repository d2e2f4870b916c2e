"""Addresses of the registry: rollers, stocks, gauges, surveys, files. Included by the addresses of the desk."""

from django.urls import path

from rollers.views import bodies, gauges, importing, mountings, registry, stocks, surveys

urlpatterns = [
    path("plant/", registry.registry, name="registry"),
    path("bodies/", bodies.bodies, name="bodies"),
    path("bodies/new/", bodies.new_body, name="new-body"),
    path("bodies/<str:serial>/", bodies.body, name="body"),
    path("measure/<str:quantity>/<str:key>/", bodies.measure, name="measure"),
    path("mounting/<str:code>/", mountings.mounting, name="mounting"),
    path("mounting/<str:code>/<str:act>/", mountings.do, name="do-mounting"),
    path("lines/<str:code>/rollers/", bodies.enter_rollers, name="enter-rollers"),
    path("stocks/", stocks.stocks, name="stocks"),
    path("stocks/new/", stocks.new_stock, name="new-stock"),
    path("stocks/<str:code>/", stocks.stock, name="stock"),
    path("stocks/<str:code>/change/", stocks.change, name="change-stock"),
    path("gauges/", gauges.gauges, name="gauges"),
    path("gauges/new/", gauges.new_gauge, name="new-gauge"),
    path("gauges/<str:code>/", gauges.gauge, name="gauge"),
    path("gauges/<str:code>/calibration/", gauges.calibrate, name="calibrate"),
    path("gauges/<str:code>/retire/", gauges.retire, name="retire-gauge"),
    path("surveys/", surveys.surveys, name="surveys"),
    path("surveys/start/<str:code>/", surveys.start, name="start-survey"),
    path("surveys/<int:pk>/", surveys.survey, name="survey"),
    path("surveys/<int:pk>/close/", surveys.close, name="close-survey"),
    path("surveys/<int:pk>/<str:code>/", surveys.look, name="survey-roller"),
    path("import/", importing.overview, name="import-overview"),
    path("import/<str:code>/", importing.bring, name="import"),
    path("import/<str:code>/confirm/", importing.confirm, name="confirm-import"),
    path("import/<str:code>/<str:which>.csv", importing.template_file, name="import-file"),
    path("export/<str:code>/", importing.write, name="export"),
]
