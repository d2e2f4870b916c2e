"""Addresses of the store: lots, reels, rooms, knives, counts, recalls, rolls. Included by the addresses of the desk."""

from django.urls import path

from rollers.views import counting, lots, recalls, reels, store

urlpatterns = [
    path("store/", store.store, name="store"),
    path("store/find/", store.find, name="find-label"),
    path("store/lots/", lots.lots, name="lots"),
    path("store/lots/receive/", lots.receive, name="receive-lot"),
    path("store/lots/unlabelled/", lots.unlabelled, name="unlabelled-reel"),
    path("store/lots/<int:pk>/", lots.lot, name="lot"),
    path("store/lots/<int:pk>/measure/", lots.measure, name="measure-lot"),
    path("store/lots/<int:pk>/release/", lots.release, name="release-lot"),
    path("store/lots/<int:pk>/hold/", lots.hold, name="hold-lot"),
    path("store/lots/<int:pk>/reels/", lots.more_reels, name="more-reels"),
    path("store/lots/<int:pk>/used-up/", lots.use_up, name="use-up-lot"),
    path("store/lots/<int:pk>/recall/", recalls.recall, name="recall-lot"),
    path("store/reels/<str:label>/", reels.reel, name="reel"),
    path("store/reels/<str:label>/<slug:act>/", reels.reel_act, name="reel-act"),
    path("store/bags/<str:label>/", reels.bag, name="bag"),
    path("store/rooms/", counting.rooms, name="room-ledgers"),
    path("store/rooms/<str:code>/", counting.room, name="room-ledger"),
    path("store/knives/", counting.knives, name="knives"),
    path("store/knives/<str:number>/<slug:act>/", counting.knife_act, name="knife-act"),
    path("store/counts/", counting.counts, name="counts"),
    path("store/counts/<int:pk>/", counting.count, name="count"),
    path("store/counts/<int:pk>/close/", counting.close, name="close-count"),
    path("store/counts/<slug:scope>/<str:key>/", counting.new_count, name="new-count"),
    path("store/recalls/", recalls.recalls, name="recalls"),
    path("store/recalls/<int:pk>/", recalls.recall_page, name="recall-page"),
    path("store/recalls/<int:pk>/tree/", recalls.tree, name="recall-tree"),
    path("store/recalls/<int:pk>/lift/", recalls.lift, name="lift-recall"),
    path("store/recalls/<int:pk>/hold/<int:application>/", recalls.hold, name="hold-recalled"),
    path("store/recalls/<int:pk>/drill/<slug:act>/", recalls.drill, name="recall-drill"),
    path("store/rolls/", recalls.rolls, name="rolls"),
    path("store/rolls/new/", recalls.new_roll, name="new-roll"),
    path("store/rolls/<str:number>/", recalls.roll, name="roll"),
]
