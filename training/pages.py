"""A module text as a page: Markdown without raw HTML, our own drawings in place, files from the content folder only."""

import re
from functools import lru_cache
from pathlib import Path
from typing import Any

from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from markdown_it import MarkdownIt
from markdown_it.token import Token

from plant.errors import NotFound
from training.content_files import ENGLISH, FOLDER
from training.drawings import draw

DRAWING, FILE = "drawing:", "file:"
# What a page may show beside drawings: short clips and pictures.
PICTURES = {
    ".png": "image/png",
    ".jpg": "image/jpeg",
    ".jpeg": "image/jpeg",
    ".webp": "image/webp",
    ".svg": "image/svg+xml",
}
CLIPS = {".mp4": "video/mp4", ".webm": "video/webm"}
NAME = re.compile(r"[a-z0-9][a-z0-9_-]{0,79}\.[a-z0-9]{2,4}")


def file_in_content(lang: str, name: str, folder: Path = FOLDER) -> tuple[Path, str]:
    """A picture or clip of the content, by name; nothing else of the machine can be asked for.

    Raises
    ------
    NotFound
        For any other name, and where the file is not there.
    """
    kind = (PICTURES | CLIPS).get(Path(name).suffix)
    if kind and NAME.fullmatch(name) and re.fullmatch(r"[a-z]{2,3}", lang):
        for each in (lang, ENGLISH):
            path = folder / each / "files" / name
            if path.is_file():
                return path, kind
    raise NotFound("picture or clip", name, "Go back to the module, or tell the trainer that it is missing.")


def _reader(lang: str) -> MarkdownIt:
    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    reader.validateLink = _is_safe_link  # type: ignore[method-assign]
    shown: dict[str, int] = {}

    def image(tokens: list[Token], place: int, options: Any, env: Any) -> str:
        source, alt = str(tokens[place].attrs.get("src", "")), tokens[place].content
        if source.startswith(DRAWING):
            name = source.removeprefix(DRAWING)
            shown[name] = shown.get(name, 0) + 1
            key = f"{name}-{shown[name]}"
            return render_to_string("ui/drawing.html", {"svg": draw(name, lang, key=key), "caption": alt})
        name = source.removeprefix(FILE)
        url = reverse("training:content-file", args=[lang, name])
        return render_to_string("training/_clip.html", {"url": url, "alt": alt, "clip": Path(name).suffix in CLIPS})

    reader.renderer.rules["image"] = image  # type: ignore[attr-defined]
    return reader


def _is_safe_link(url: str) -> bool:
    """Our own drawings and files, pages of this program, and places on the page."""
    return url.startswith((DRAWING, FILE, "/", "#")) and not url.startswith("//")


@lru_cache(maxsize=64)
def html_of(text: str, lang: str) -> SafeString:
    """The text as HTML. A paragraph that holds one picture alone becomes that picture."""
    rendered = _reader(lang).render(text)
    rendered = re.sub(r"<p>(<figure.*?</figure>)</p>", r"\1", rendered, flags=re.DOTALL)
    rendered = rendered.replace("<table>", '<div class="grid-scroll" tabindex="0"><table class="grid">')
    return mark_safe(rendered.replace("</table>", "</table></div>"))  # noqa: S308  (raw HTML is off in the reader)
