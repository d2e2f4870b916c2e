from training.models.certificate import Certificate, CertificateAct, CertificateCard
from training.models.due import CalendarFeed, Due, Note
from training.models.practice_log import JobDone, Trigger, TriggerAnswer
from training.models.skill import Skill, SkillProposal, WorkKind

__all__ = [
    "CalendarFeed",
    "Certificate",
    "CertificateAct",
    "CertificateCard",
    "Due",
    "JobDone",
    "Note",
    "Skill",
    "SkillProposal",
    "Trigger",
    "TriggerAnswer",
    "WorkKind",
]
