from plant.audit.services.recording import record
from plant.audit.services.signing import Confirmation, sign

__all__ = ["Confirmation", "record", "sign"]
