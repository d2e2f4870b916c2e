"""From a page to a PDF/A-3b file with the record as JSON inside. The same page gives the same bytes."""

import hashlib
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string

from plant.audit.canonical import canonical
from plant.audit.proofs import root_at
from plant.errors import Refused
from plant.reports.registry import Page

CSS = settings.BASE_DIR / "plant" / "static" / "plant" / "css"


def weasyprint() -> Any:
    """The PDF library, loaded only where a PDF is made: it needs Pango, which a bare machine may lack.

    Raises
    ------
    Refused
        When Pango is not on this machine; everything else goes on without.
    """
    try:
        import weasyprint as library  # noqa: PLC0415  (the one import inside a function)
    except OSError:
        sentence = (
            "PDFs need the system library Pango, which is not on this machine. The system keeper installs it "
            "(Debian: apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0); all else works without."
        )
        raise Refused("no-pango", sentence) from None
    return library


def html_of(page: Page, paper: str) -> str:
    """The page as HTML with the styles of paper, dated by what it shows."""
    stamp = page.as_of.astimezone(UTC).isoformat(timespec="seconds")
    facts = {"paper": paper, "css_base": CSS.as_uri() + "/", "as_of": page.as_of, "stamp": stamp, "title": page.title}
    facts["root"] = root_at(page.as_of)
    return render_to_string(page.template, page.context | facts)


def pdf_of(page: Page, paper: str = "a4") -> bytes:
    """PDF/A-3b with the canonical JSON of the record attached."""
    library = weasyprint()
    attached = library.Attachment(
        string=canonical(page.record).decode(),
        name="record.json",
        description="The record as canonical JSON (RFC 8785)",
        relationship="Source",
        created=page.as_of,
        modified=page.as_of,
    )
    document = library.HTML(string=html_of(page, paper), base_url=str(CSS) + "/")
    return document.write_pdf(pdf_variant="pdf/a-3b", attachments=[attached])


def made_with() -> str:
    """The library that made a file: needed to make the same bytes again."""
    return f"weasyprint {version('weasyprint')}"


def path_of(name: str) -> Path:
    """Where a stored file lies."""
    return Path(settings.MEDIA_ROOT) / "reports" / name


def keep(content: bytes, name: str) -> tuple[Path, str]:
    """Write a file among the stored ones; return its path and SHA-256."""
    path = path_of(name)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    return path, hashlib.sha256(content).hexdigest()


def now_utc(at: datetime) -> datetime:
    """The moment in UTC, to the second, as PDF dates have it."""
    return at.astimezone(UTC).replace(microsecond=0)
