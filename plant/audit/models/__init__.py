from plant.audit.models.event import Event, StreamHead
from plant.audit.models.signature import Signature

__all__ = ["Event", "Signature", "StreamHead"]
