"""What was taught, asked, answered, watched and signed stays as it was written."""

from django.db import migrations

from plant.audit.triggers import append_only, install, unreplaceable_sql

KEPT = {
    "training_moduleversion": ["module_id,number,lang"],
    "training_reading": [],
    "training_questionversion": ["question_id,number,lang"],
    "training_attempt": [],
    "training_drawn": ["attempt_id,place", "attempt_id,version_id"],
    "training_attemptresult": ["attempt_id"],
    "training_answer": ["drawn_id"],
    "training_coaching": [],
    "training_attendance": ["corrects_id", "session_id,person_id:{row}.corrects_id IS NULL"],
    "training_practice": ["job_id"],
    "training_assessment": [],
    "training_stepmark": [],
    "training_stepphoto": [],
    "training_verdict": ["assessment_id"],
    "training_candidatesigned": ["verdict_id"],
    "training_marking": ["assessment_id,by_id"],
}


def places(vendor):
    return [sql for table, keys in KEPT.items() for sql in unreplaceable_sql(vendor, table, *keys)]


class Migration(migrations.Migration):
    dependencies = [("training", "0006_courses_tests_practicals"), ("audit", "0005_attachments")]
    operations = [append_only(*KEPT), install(places)]
