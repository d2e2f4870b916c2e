"""Addresses of the floor."""

from django.urls import path

from plant.floor.views import lines, products, rooms, shifts

app_name = "floor"
urlpatterns = [
    path("plant/", rooms.plant, name="plant"),
    path("rooms/", rooms.rooms, name="rooms"),
    path("rooms/new/", rooms.new_room, name="new-room"),
    path("rooms/<str:code>/class/", rooms.reclassify, name="reclassify-room"),
    path("lines/", lines.lines, name="lines"),
    path("lines/new/", lines.new_line, name="new-line"),
    path("lines/<str:code>/", lines.line, name="line"),
    path("lines/<str:code>/position/", lines.new_position, name="new-position"),
    path("lines/<str:code>/path/", lines.draw, name="draw-path"),
    path("products/", products.products, name="products"),
    path("products/new/", products.new_product, name="new-product"),
    path("products/<str:code>/", products.product, name="product"),
    path("products/<str:code>/revise/", products.revise, name="revise-product"),
    path("shifts/", shifts.shifts, name="shifts"),
    path("shifts/patterns/", shifts.patterns, name="shift-patterns"),
    path("shifts/plan/", shifts.plan, name="plan-shifts"),
    path("shifts/<int:pk>/", shifts.crew, name="crew"),
]
