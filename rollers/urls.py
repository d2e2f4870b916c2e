"""Addresses of the desk screens of rollers."""

from django.urls import include, path

from rollers.views import board, copying, limits, metal, modulus, positions, recipes, runs, sheets, sizing, sizing_parts

app_name = "rollers"
urlpatterns = [
    path("", include("rollers.urls_registry")),
    path("", include("rollers.urls_line")),
    path("", include("rollers.urls_store")),
    path("board/<str:code>/", board.board, name="board"),
    path("board/<str:code>/plan/", board.plan, name="plan-run"),
    path("runs/<int:pk>/", runs.run, name="run"),
    path("runs/<int:pk>/release/", runs.release, name="release-run"),
    path("runs/<int:pk>/end/", runs.end, name="end-run"),
    path("positions/<str:code>/", positions.position, name="position"),
    path("sizing/<str:code>/", sizing.sizing, name="sizing"),
    path("sizing/<str:code>/part/<slug:name>/", sizing_parts.part, name="sizing-part"),
    path("sizing/<str:code>/draft/", sizing.draft, name="draft-recipe"),
    path("recipes/", positions.recipes, name="recipes"),
    path("recipes/<int:pk>/", recipes.recipe, name="recipe"),
    path("recipes/<int:pk>/check/", recipes.check, name="check-recipe"),
    path("recipes/<int:pk>/approve/", recipes.approve, name="approve-recipe"),
    path("recipes/<int:pk>/withdraw/", recipes.withdraw, name="withdraw-recipe"),
    path("recipes/<int:pk>/copy/", copying.copy, name="copy-recipe"),
    path("recipes/<int:pk>/metal/", metal.metal, name="metal"),
    path("recipes/<int:pk>/metal/lathe.csv", metal.lathe, name="lathe"),
    path("products/<str:code>/modulus/", modulus.modulus, name="modulus"),
    path("products/<str:code>/modulus/take/", modulus.take_over, name="take-modulus"),
    path("products/<str:code>/modulus/example.csv", modulus.example, name="strip-example"),
    path("sheets/", sheets.sheets, name="sheets"),
    path("sheets/<int:pk>/", sheets.sheet, name="sheet"),
    path("sheets/<int:pk>/sign/", sheets.sign, name="sign-sheet"),
    path("sheets/<int:pk>/withdraw/", sheets.withdraw, name="withdraw-sheet"),
    path("sheets/<str:code>/<int:path_pk>/", sheets.edit, name="edit-sheet"),
    path("limits/", limits.limits, name="limits"),
    path("limits/change/", limits.change, name="change-limits"),
]
