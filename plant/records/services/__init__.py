from plant.records.services.exporting import export_proof, export_roots, export_trail
from plant.records.services.reviewing import review_trail
from plant.records.services.verifying import ask_verification, verify_and_record

__all__ = [
    "ask_verification",
    "export_proof",
    "export_roots",
    "export_trail",
    "review_trail",
    "verify_and_record",
]
