"""Addresses of a running line: change, order, set-points, overrides, handover, open work, holds."""

from django.urls import path

from rollers.views import changeover, controls, handover, holds, open_work, overrides, room_tape

urlpatterns = [
    path("open/", open_work.open_work, name="open-work"),
    path("open/alerts/<int:pk>/take/", open_work.acknowledge, name="take-alert"),
    path("open/tasks/<int:pk>/", open_work.task, name="task"),
    path("open/deviations/<int:pk>/", open_work.deviation, name="deviation"),
    path("open/deviations/<int:pk>/person/", open_work.tie, name="tie-deviation"),
    path("runs/<int:pk>/change/", changeover.change, name="change-sheet"),
    path("runs/<int:pk>/set-point/", changeover.set_point, name="set-point"),
    path("board/<str:code>/order/", changeover.order, name="run-order"),
    path("board/<str:code>/override/", overrides.override, name="override"),
    path("board/<str:code>/handover/", handover.handover, name="handover"),
    path("overrides/", overrides.overrides, name="overrides"),
    path("holds/", holds.holds, name="holds"),
    path("holds/<int:pk>/", holds.hold, name="hold"),
    path("holds/<int:pk>/close/", holds.close, name="close-hold"),
    path("holds/rolls/<int:pk>/", holds.roll, name="held-roll"),
    path("rooms/<str:code>/tape/", room_tape.room_tape, name="room-tape"),
    path("controls/", controls.controls, name="controls"),
]
