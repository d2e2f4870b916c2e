"""Addresses of the desk: lines, walks, cause sheets, rollers, studies."""

from django.urls import path

from rollers.causes.views import lines, positions, sheets, studies

app_name = "causes"
urlpatterns = [
    path("line/<str:code>/", lines.line, name="line"),
    path("line/<str:code>/what-if/", lines.what_if, name="what-if"),
    path("walks/<int:pk>/", lines.walk, name="walk"),
    path("roller/<str:code>/", positions.roller, name="roller"),
    path("roller/<str:code>/remark/", positions.remark, name="remark"),
    path("roller/<str:code>/decide/", positions.decide, name="decide"),
    path("roller/<str:code>/trial/", positions.trial, name="trial"),
    path("trials/<int:pk>/start/", positions.start, name="start-trial"),
    path("roller/<str:code>/sheet/", sheets.open_one, name="open-sheet"),
    path("roller/<str:code>/study/", studies.plan, name="plan-study"),
    path("sheets/<int:pk>/", sheets.sheet, name="sheet"),
    path("sheets/<int:pk>/close/", sheets.close, name="close-sheet"),
    path("sheets/<int:pk>/order/", sheets.order, name="order"),
    path("sheets/<int:pk>/<slug:cause>/", sheets.fill, name="fill"),
    path("orders/<int:pk>/done/", sheets.finish, name="finish-order"),
    path("studies/<int:pk>/", studies.study, name="study"),
    path("studies/<int:pk>/work-out/", studies.compute, name="work-out"),
    path("pays/", studies.pays, name="pays"),
    path("pays/<str:code>/", studies.pays_of, name="pays-of"),
    path("pays/<str:code>/rows.csv", studies.pays_csv, name="pays-csv"),
]
