from plant.records.models.retention import Purged, PurgeOrder, RetentionRule
from plant.records.models.review import TrailReview

__all__ = ["PurgeOrder", "Purged", "RetentionRule", "TrailReview"]
