from training.models.certificate import Certificate, CertificateAct
from training.models.skill import Skill

__all__ = ["Certificate", "CertificateAct", "Skill"]
