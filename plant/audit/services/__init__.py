from plant.audit.services.attaching import file_of, keep_photo
from plant.audit.services.recording import record
from plant.audit.services.rooting import make_root
from plant.audit.services.signing import Confirmation, sign

__all__ = ["Confirmation", "file_of", "keep_photo", "make_root", "record", "sign"]
