"""Reading the module texts and the question bank from their files. Pure: a folder in, plain rows out."""

import hashlib
import json
import tomllib
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from training.rules_tests import OPTIONS

FOLDER = Path(__file__).resolve().parent / "content"
ENGLISH = "en"
FENCE = "+++"


class BadContent(Exception):
    """A file of the content cannot be used; the sentence names file and field."""


@dataclass(frozen=True)
class ModuleText:
    """One module in one language."""

    number: int
    slug: str
    lang: str
    version: int
    title: str
    minutes: int
    text: str
    skills: list[str]
    cautions: list[str]
    sign: bool

    @property
    def digest(self) -> str:
        """SHA-256 of all that a reader sees."""
        return _digest(self)


@dataclass(frozen=True)
class QuestionText:
    """One question in one language."""

    code: str
    lang: str
    version: int
    topic: str
    safety: bool
    text: str
    options: list[str]
    answer: int
    why: str
    skills: list[str]

    @property
    def digest(self) -> str:
        """SHA-256 of the question with its key."""
        return _digest(self)


@dataclass(frozen=True)
class Topics:
    """Names of the topics by language, and how many questions of each a test draws."""

    names: dict[str, dict[str, str]]
    quotas: dict[str, dict[str, int]]

    def name(self, code: str, lang: str) -> str:
        """A topic as it is printed."""
        known = self.names.get(code, {})
        return known.get(lang) or known.get(ENGLISH) or code


def _digest(row: Any) -> str:
    body = json.dumps(asdict(row), sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(body.encode()).hexdigest()


def _toml(text: str, where: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as trouble:
        raise BadContent(f"{where} is no TOML: {trouble}") from None


def _need(row: dict[str, Any], name: str, kind: type, where: str) -> Any:
    value = row.get(name)
    if not isinstance(value, kind) or (kind is int and isinstance(value, bool)):
        raise BadContent(
            f"{where}: {name} is missing or not {'a list' if kind is list else f'of type {kind.__name__}'}"
        )
    return value


def module_text(path: Path, lang: str) -> ModuleText:
    """Read one module file."""
    where = f"{lang}/modules/{path.name}"
    _, opening, rest = path.read_text(encoding="utf-8").partition(FENCE + "\n")
    head, closing, text = rest.partition("\n" + FENCE + "\n")
    if not opening or not closing:
        raise BadContent(f"{where} does not begin with facts between two lines of {FENCE}")
    facts = _toml(head, where)
    return ModuleText(
        number=_need(facts, "number", int, where),
        slug=path.stem.partition("-")[2] or path.stem,
        lang=lang,
        version=_need(facts, "version", int, where),
        title=_need(facts, "title", str, where),
        minutes=_need(facts, "minutes", int, where),
        text=text.strip() + "\n",
        skills=_need(facts, "skills", list, where),
        cautions=_need(facts, "cautions", list, where),
        sign=bool(facts.get("sign", False)),
    )


def _question(row: dict[str, Any], lang: str, where: str) -> QuestionText:
    code = _need(row, "code", str, where)
    where = f"{where}, {code}"
    options, answer = _need(row, "options", list, where), _need(row, "answer", int, where)
    if len(options) != OPTIONS or len(set(options)) != OPTIONS:
        raise BadContent(f"{where}: options must be {OPTIONS} different sentences")
    if not 0 <= answer < OPTIONS:
        raise BadContent(f"{where}: answer must be 0 to {OPTIONS - 1}")
    return QuestionText(
        code=code,
        lang=lang,
        version=_need(row, "version", int, where),
        topic=_need(row, "topic", str, where),
        safety=_need(row, "safety", bool, where),
        text=_need(row, "text", str, where),
        options=options,
        answer=answer,
        why=_need(row, "why", str, where),
        skills=_need(row, "skills", list, where),
    )


def languages(folder: Path = FOLDER) -> list[str]:
    """The languages there are, English first."""
    found = sorted(each.name for each in folder.iterdir() if each.is_dir()) if folder.is_dir() else []
    return sorted(found, key=lambda lang: (lang != ENGLISH, lang))


def modules(folder: Path = FOLDER) -> Iterator[ModuleText]:
    """Every module text, by language and number."""
    for lang in languages(folder):
        yield from (module_text(path, lang) for path in sorted((folder / lang / "modules").glob("*.md")))


def questions(folder: Path = FOLDER) -> Iterator[QuestionText]:
    """Every question, by language."""
    for lang in languages(folder):
        path = folder / lang / "questions.toml"
        if path.is_file():
            where = f"{lang}/{path.name}"
            rows = _toml(path.read_text(encoding="utf-8"), where).get("question", [])
            yield from (_question(row, lang, where) for row in rows)


@lru_cache(maxsize=8)
def topics(folder: Path = FOLDER) -> Topics:
    """The topics and the quotas; none where the file is missing."""
    path = folder / "topics.toml"
    if not path.is_file():
        return Topics({}, {})
    found = _toml(path.read_text(encoding="utf-8"), path.name)
    names = {row["code"]: {key: text for key, text in row.items() if key != "code"} for row in found.get("topic", [])}
    return Topics(names, found.get("quotas", {}))
