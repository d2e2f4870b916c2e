from plant.audit.models.attachment import Attachment
from plant.audit.models.event import Event, StreamHead
from plant.audit.models.root import DailyRoot, RootHead
from plant.audit.models.signature import Signature

__all__ = ["Attachment", "DailyRoot", "Event", "RootHead", "Signature", "StreamHead"]
