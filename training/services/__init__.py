from training.services.certificates import content_of, import_founding_certificate, issue_certificate
from training.services.suspending import reinstate, suspend, withdraw

__all__ = [
    "content_of",
    "import_founding_certificate",
    "issue_certificate",
    "reinstate",
    "suspend",
    "withdraw",
]
