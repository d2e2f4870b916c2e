"""What the pages of the core say about causes: what failed, what was not checked, what was decided; and a file kind."""

from collections.abc import Iterable

from calcs.evidence import WORSE
from plant.floor.models import Position, Product
from plant.floor.queries import current_version
from rollers.causes.evidence import usual
from rollers.causes.models import CauseEntry, Study, StudyResult
from rollers.causes.queries import newest_sheet, recipe_then, rows_of
from rollers.causes.services import exposures
from rollers.causes.services.studies import rows_in
from rollers.failed_tries import FailedTry, failed_try, finds_tries
from rollers.models import Decision
from rollers.services.files.kinds import add_kind
from rollers.slots import say_of_positions


@say_of_positions
def of_position(position: Position, products: Iterable[Product]) -> list[str]:
    """Sentences about the newest cause sheet and decision of a roller."""
    if position.never_taped:
        return []
    sheet, said = newest_sheet(position), []
    if sheet is None:
        said.append(f"No cause sheet of {position.code}: none of the other causes is ruled out.")
    else:
        rows = rows_of(sheet)
        open_rows = [row.title for row, entry in rows if entry is None]
        skipped = [
            f"{row.title} ({entry.reason})"
            for row, entry in rows
            if entry is not None and entry.outcome == CauseEntry.Outcome.NOT_CHECKED
        ]
        failed = [entry.sentence for _, entry in rows if entry is not None and entry.outcome == CauseEntry.Outcome.FAIL]
        said += [f"Cause that fails: {sentence}" for sentence in failed]
        if skipped:
            said.append(f"Causes not checked at {position.code}: {'; '.join(skipped)}.")
        if open_rows:
            said.append(f"Still open on the cause sheet of {position.code}: {', '.join(open_rows)}.")
    decision = Decision.objects.filter(position=position).order_by("-pk").first()
    if decision is None:
        said.append(f"Nothing is decided about {position.code} yet.")
    elif decision.answer != Decision.Answer.TAPE:
        said.append(f"The newest decision for {position.code} is: {decision.get_answer_display()}. {decision.reason}")
    elif decision.emergency:
        said.append(f"Tape at {position.code} was decided as an emergency: walk and cause sheet follow.")
    return said


@finds_tries
def tries_of(position: Position) -> list[FailedTry]:
    """Studies whose newest count says worse, with the recipe they name or the tape that was on then."""
    found = []
    for study in Study.objects.filter(position=position).select_related("product", "recipe_version__stock"):
        newest = StudyResult.objects.filter(study=study).order_by("-pk").first()
        version = study.recipe_version or recipe_then(study)
        if newest is None or newest.verdict != WORSE or version is None:
            continue
        rows = rows_in(study, (study.after_from, study.after_to))
        tension = usual(rows, "tension_n_per_m") or current_version(study.product).tension_set_n_per_m
        words = f"study of {study.planned_at:%Y-%m-%d}: {study.get_measure_display()} got worse"
        made = failed_try(version, study.product.code, tension, words)
        found += [made] if made else []
    return found


add_kind(exposures.KIND)
