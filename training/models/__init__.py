from training.models.assessment import (
    Assessment,
    CandidateSigned,
    Mark,
    Marking,
    StepMark,
    StepPhoto,
    Verdict,
)
from training.models.attempt import Answer, Attempt, AttemptResult, Coaching, Drawn, Pick
from training.models.certificate import Certificate, CertificateAct, CertificateCard
from training.models.due import CalendarFeed, Due, Note
from training.models.module import Module, ModuleVersion, Reading
from training.models.practice_log import JobDone, Trigger, TriggerAnswer
from training.models.question import Question, QuestionVersion
from training.models.session import Attendance, Practice, Session
from training.models.skill import Skill, SkillProposal, WorkKind

__all__ = [
    "Answer",
    "Assessment",
    "Attempt",
    "AttemptResult",
    "Attendance",
    "CalendarFeed",
    "CandidateSigned",
    "Certificate",
    "CertificateAct",
    "CertificateCard",
    "Coaching",
    "Drawn",
    "Due",
    "JobDone",
    "Mark",
    "Marking",
    "Module",
    "ModuleVersion",
    "Note",
    "Pick",
    "Practice",
    "Question",
    "QuestionVersion",
    "Reading",
    "Session",
    "Skill",
    "SkillProposal",
    "StepMark",
    "StepPhoto",
    "Trigger",
    "TriggerAnswer",
    "Verdict",
    "WorkKind",
]
