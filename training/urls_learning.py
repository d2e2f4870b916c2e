"""Addresses of learning: modules, tests, classes, practicals, paths. Included by `training.urls`, in its namespace."""

from django.urls import path

from training.views import learning_figures, modules, paths, practicals, sessions, tests

urlpatterns = [
    path("modules/", modules.modules, name="modules"),
    path("modules/<int:number>/", modules.module, name="module"),
    path("modules/<int:number>/changes/", modules.changes, name="module-changes"),
    path("content/<slug:lang>/<str:name>", modules.content_file, name="content-file"),
    path("", paths.own_path, name="path"),
    path("people/<int:key>/path/", paths.path, name="path-of"),
    path("people/<int:key>/path/<slug:code>/", paths.skill_path, name="skill-path"),
    path("people/<int:key>/practice/", paths.practice, name="practice"),
    path("people/<int:key>/coach/<slug:code>/", paths.coach, name="coach"),
    path("people/<int:key>/certify/<slug:code>/", paths.certify_path, name="certify"),
    path("people/<int:key>/assess/<slug:code>/", practicals.begin, name="assess"),
    path("tests/<slug:code>/begin/", tests.begin, name="begin-test"),
    path("tests/<slug:code>/aloud/", tests.begin_oral, name="begin-oral"),
    path("tests/<int:key>/", tests.test, name="test"),
    path("tests/<int:key>/keep/", tests.keep, name="keep-picks"),
    path("classes/", sessions.sessions, name="sessions"),
    path("classes/plan/", sessions.plan, name="plan-session"),
    path("classes/<int:key>/", sessions.session, name="session"),
    path("classes/<int:key>/attend/<int:person>/", sessions.attend, name="attend"),
    path("classes/<int:key>/cancel/", sessions.cancel, name="cancel-session"),
    path("practicals/", practicals.practicals, name="practicals"),
    path("practicals/<int:key>/", practicals.practical, name="practical"),
    path("practicals/<int:key>/step/<int:number>/", practicals.step, name="step"),
    path("practicals/<int:key>/sign/", practicals.candidate, name="candidate"),
    path("practicals/<int:key>/again/", practicals.again, name="mark-again"),
    path("practicals/<int:key>/<slug:how>/", practicals.end, name="end-practical"),
    path("figures/", learning_figures.statistics, name="statistics"),
    path("questions/", learning_figures.bank, name="bank"),
    path("questions/<slug:code>/retire/", learning_figures.retire, name="retire-question"),
]
