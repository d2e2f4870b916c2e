"""What the clock does for training. Each may run at any time and twice."""

from datetime import datetime, timedelta

from plant.floor.queries import plant_or_none
from plant.jobs.registry import Outcome, work
from training.services.content import lay_down_content
from training.services.dues import raise_dues
from training.services.mailing import mail_notes
from training.services.testing import close_left_attempts
from training.services.warning import warn_of_gaps, warn_of_lapses


@work("raise dues", every=timedelta(hours=1))
def dues(now: datetime, due_at: datetime) -> Outcome:
    """Every hour, so that a day that begins at midnight in plant time is noticed soon after it."""
    return dict(raise_dues(now)) | {"gaps": warn_of_gaps(now)} if plant_or_none() else None


FIVE_MINUTES = timedelta(minutes=5)


@work("warn of lapses", every=FIVE_MINUTES)
def lapses(now: datetime, due_at: datetime) -> Outcome:
    """A person on shift whose certificate ends."""
    return {"notes": warn_of_lapses(now, until_next=FIVE_MINUTES)} if plant_or_none() else None


@work("mail notes", every=FIVE_MINUTES)
def mail(now: datetime, due_at: datetime) -> Outcome:
    """By e-mail what stands on the persons' pages."""
    return dict(mail_notes(now))


@work("lay down courses", every=timedelta(hours=1))
def courses(now: datetime, due_at: datetime) -> Outcome:
    """Texts and questions that came with a new version of the program, and a new installation's first ones."""
    return {"laid": len(lay_down_content(at=now))}


@work("close tests", every=FIVE_MINUTES)
def tests(now: datetime, due_at: datetime) -> Outcome:
    """Tests whose time is up and that nobody handed in."""
    return {"closed": close_left_attempts(at=now)}
