from plant.reports.models.stored import StoredReport

__all__ = ["StoredReport"]
