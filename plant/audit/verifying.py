"""What this layer verifies beside the chains themselves."""

from plant.audit.verification import files, signatures

__all__ = ["files", "signatures"]
