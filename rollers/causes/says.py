"""What the pages of the core say about causes: what failed, what was not checked, what was decided; and a file kind."""

from collections.abc import Iterable

from plant.floor.models import Position, Product
from rollers.causes.models import CauseEntry
from rollers.causes.queries import newest_sheet, rows_of
from rollers.causes.services import exposures
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


add_kind(exposures.KIND)
