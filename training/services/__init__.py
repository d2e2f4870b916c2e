from training.services.certificates import content_of, give_card, import_founding_certificate, issue_certificate
from training.services.dues import raise_dues, set_aside, settle_dues
from training.services.refreshers import answer_refresher, ask_refresher
from training.services.suspending import reinstate, suspend, withdraw
from training.services.telling import tell_job_done, tell_trigger

__all__ = [
    "answer_refresher",
    "ask_refresher",
    "content_of",
    "give_card",
    "import_founding_certificate",
    "issue_certificate",
    "raise_dues",
    "reinstate",
    "set_aside",
    "settle_dues",
    "suspend",
    "tell_job_done",
    "tell_trigger",
    "withdraw",
]
