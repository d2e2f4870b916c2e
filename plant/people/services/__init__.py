from plant.people.services.badges import end_badge, issue_badge
from plant.people.services.persons import choose_language, end_role, grant_role, join, leave, review_access
from plant.people.services.secrets import (
    choose_pin,
    choose_secret,
    confirm_secret,
    issue_starter,
    sign_out,
    try_sign_in,
)

__all__ = [
    "choose_language",
    "choose_pin",
    "choose_secret",
    "confirm_secret",
    "end_badge",
    "end_role",
    "grant_role",
    "issue_badge",
    "issue_starter",
    "join",
    "leave",
    "review_access",
    "sign_out",
    "try_sign_in",
]
