"""Addresses of training."""

from django.urls import include, path

from training.views import certificates, dues, figures, papers

app_name = "training"
urlpatterns = [
    path("learning/", include("training.urls_learning")),
    path("", certificates.grid, name="grid"),
    path("people/<int:key>/", dues.person, name="person"),
    path("people/<int:key>/refresher/", dues.refresher, name="refresher"),
    path("people/<int:key>/record.csv", papers.record_csv, name="record-csv"),
    path("refreshers/<int:pk>/done/", dues.refreshed, name="refreshed"),
    path("due/", dues.wall, name="wall"),
    path("due/<int:pk>/aside/", dues.put_aside, name="put-aside"),
    path("shifts/", dues.coverage, name="coverage"),
    path("notes/read/", dues.read_notes, name="read-notes"),
    path("matrix.csv", papers.matrix_csv, name="matrix-csv"),
    path("skills/", figures.skills, name="skills"),
    path("skills/<slug:code>/propose/", figures.propose, name="propose"),
    path("skills/proposals/<int:pk>/", figures.proposal, name="proposal"),
    path("skills/proposals/<int:pk>/refuse/", figures.refuse, name="refuse-proposal"),
    path("certificates/<int:pk>/", papers.certificate, name="certificate"),
    path("card/<str:token>/", papers.check, name="check"),
    path("calendar/new/", papers.new_feed, name="make-feed"),
    path("calendar/end/", papers.stop_feed, name="end-feed"),
    path("calendar/<str:token>.ics", papers.calendar, name="calendar"),
    path("people/<int:key>/issue/", certificates.issue, name="issue"),
    path("people/<int:key>/founding/", certificates.founding, name="founding"),
    path("certificates/<int:key>/<slug:verb>/", certificates.act, name="act"),
]
