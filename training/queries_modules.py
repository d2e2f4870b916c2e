"""Reads about modules: which text is in force, who read what, and what changed since."""

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from plant.people.models import Person
from training.content_files import ENGLISH
from training.models import Module, ModuleVersion, Reading


def lang_of(person: Person) -> str:
    """The language a person reads: `de` of `de-at`."""
    return person.language.partition("-")[0].lower() or ENGLISH


def _newest(versions: Iterable[ModuleVersion], lang: str) -> ModuleVersion | None:
    """The newest text, in the wished language where that has the same version, else in English."""
    rows = list(versions)
    newest = max((each.number for each in rows), default=0)
    texts = {each.lang: each for each in rows if each.number == newest}
    return texts.get(lang) or texts.get(ENGLISH) or next(iter(texts.values()), None)


def current_version(module: Module, lang: str) -> ModuleVersion | None:
    """The text in force of a module, in this language where there is one."""
    return _newest(module.versions.select_related("module"), lang)


def languages_of(module: Module) -> list[str]:
    """The languages in which the newest version stands, English first."""
    rows = list(module.versions.all())
    newest = max((each.number for each in rows), default=0)
    return sorted({each.lang for each in rows if each.number == newest}, key=lambda lang: (lang != ENGLISH, lang))


@dataclass(frozen=True)
class ModuleNow:
    """A module as its list shows it to one person."""

    version: ModuleVersion
    reading: Reading | None

    @property
    def read(self) -> bool:
        """Whether the newest version is read."""
        return self.reading is not None and self.reading.version.number == self.version.number

    @property
    def changed(self) -> bool:
        """Read once, but a newer version came."""
        return self.reading is not None and not self.read


def modules_now(person: Person, *, lang: str = "", skill: str = "") -> list[ModuleNow]:
    """Every module with what the person last read of it; of one skill where it is named."""
    lang, found = lang or lang_of(person), []
    read: dict[int, Reading] = {}
    for reading in Reading.objects.filter(person=person).select_related("version").order_by("at", "pk"):
        before = read.get(reading.version.module_id)
        if before is None or reading.version.number >= before.version.number:
            read[reading.version.module_id] = reading
    for module in Module.objects.prefetch_related("versions__module"):
        version = _newest(module.versions.all(), lang)
        if version is not None and (not skill or skill in version.skills):
            found.append(ModuleNow(version, read.get(module.pk)))
    return found


def read_since(person: Person, skill: str, since: datetime | None) -> datetime | None:
    """When the last module of a skill was read, all of them in their newest version after a moment; else None."""
    wanted = {each.version.module_id: each.version.number for each in modules_now(person, skill=skill)}
    if not wanted:
        return None
    moments: dict[int, datetime] = {}
    for reading in Reading.objects.filter(person=person).select_related("version").order_by("at", "pk"):
        module = reading.version.module_id
        fresh = since is None or reading.at > since
        if fresh and wanted.get(module) == reading.version.number:
            moments[module] = reading.at
    return max(moments.values()) if set(moments) == set(wanted) else None


@dataclass(frozen=True)
class Passage:
    """A paragraph of the newer text beside the older: `kind` is added, removed or kept."""

    kind: str
    text: str


def changes_between(before: ModuleVersion, after: ModuleVersion) -> list[Passage]:
    """What changed from one text to another, paragraph by paragraph; unchanged ones only as neighbours."""
    old, new = ([part.strip() for part in each.text.split("\n\n")] for each in (before, after))
    kinds = {"+ ": "added", "- ": "removed", "  ": "kept"}
    rows = [Passage(kinds[line[:2]], line[2:]) for line in difflib.ndiff(old, new) if line[:2] in kinds]
    near = {place + step for place, row in enumerate(rows) if row.kind != "kept" for step in (-1, 0, 1)}
    return [row for place, row in enumerate(rows) if place in near]
