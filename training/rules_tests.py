"""Pure rules of the tests: drawing, marking, trying again. Our own defaults; no standard sets them."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random

OPTIONS = 4
TRIES = 2
PAUSE = timedelta(hours=24)
ROUND = TRIES + 1  # the third failure sends back to the modules
MINUTES_PER_QUESTION = 3


@dataclass(frozen=True)
class Item:
    """A question as the draw sees it."""

    key: int
    topic: str
    safety: bool


def quotas(available: Mapping[str, int], count: int) -> dict[str, int]:
    """How many questions of each topic: one of each where there is room, the rest by the size of the topics.

    The rest is shared out by largest remainders; no topic is asked for more than it has.
    """
    if count > sum(available.values()):
        raise ValueError(f"{count} questions asked for, {sum(available.values())} there")
    topics = sorted((topic for topic in available if available[topic]), key=lambda topic: (-available[topic], topic))
    shares = {topic: 1 if place < count else 0 for place, topic in enumerate(topics)}
    total = sum(available.values())
    while sum(shares.values()) < count:
        open_topics = [topic for topic in topics if shares[topic] < available[topic]]
        behind = max(open_topics, key=lambda topic: (available[topic] * count / total - shares[topic], topic))
        shares[behind] += 1
    return {topic: share for topic, share in shares.items() if share}


def fitting(wished: Mapping[str, int], available: Mapping[str, int], count: int) -> dict[str, int]:
    """The wished quotas where they add up and can be met, else shares by the size of the topics."""
    if sum(wished.values()) == count and all(available.get(topic, 0) >= share for topic, share in wished.items()):
        return {topic: share for topic, share in wished.items() if share}
    return quotas(available, count)


def draw(
    bank: Sequence[Item], count: int, seed: str, wished: Mapping[str, int] | None = None
) -> list[tuple[int, list[int]]]:
    """Draw questions by topic and shuffle them and their options: keys with the order of the options.

    The same seed over the same bank and quotas gives the same paper, so that a draw can be repeated later.
    """
    chance = Random(seed)  # noqa: S311  (must be repeatable; the seed itself comes from a secure source)
    by_topic: dict[str, list[Item]] = defaultdict(list)
    for item in sorted(bank, key=lambda one: one.key):
        by_topic[item.topic].append(item)
    wanted = fitting(wished or {}, {topic: len(items) for topic, items in by_topic.items()}, count)
    found = [item for topic in sorted(wanted) for item in chance.sample(by_topic[topic], wanted[topic])]
    chance.shuffle(found)
    return [(item.key, chance.sample(range(OPTIONS), OPTIONS)) for item in found]


def is_passed(right: int, asked: int, safety_wrong: int, *, pass_percent: int, safety_all: bool) -> bool:
    """Enough right, and every safety question where the paper says so."""
    return 100 * right >= pass_percent * asked and not (safety_all and safety_wrong)


@dataclass(frozen=True)
class Past:
    """An attempt of the past, marked."""

    at: datetime
    passed: bool


@dataclass(frozen=True)
class MayTry:
    """Whether a further try may begin; `code` says what stands before it."""

    ok: bool
    code: str = "ok"
    fails: int = 0
    from_: datetime | None = None


def may_try(
    past: Sequence[Past], *, coached_at: Sequence[datetime], reread_at: datetime | None, at: datetime
) -> MayTry:
    """May a test be begun now?

    Two tries; then a pause of 24 hours and coaching by a trainer; after the third failure every module of the course
    is read again, and the count begins anew.

    Parameters
    ----------
    past : marked attempts for the skill, in this cycle.
    reread_at : when the last of the modules was read again, all of them after the last failure; None if they were not.
    """
    fails: list[datetime] = []
    for attempt in sorted(past, key=lambda one: one.at):
        fails = [] if attempt.passed else [*fails, attempt.at]
    in_round = len(fails) % ROUND
    if fails and in_round == 0:
        if reread_at is None or reread_at < fails[-1]:
            return MayTry(False, "back-to-modules", len(fails))
    elif in_round == TRIES:
        opens = fails[-1] + PAUSE
        if not any(moment > fails[-1] for moment in coached_at):
            return MayTry(False, "coaching-first", len(fails), opens)
        if at < opens:
            return MayTry(False, "pause", len(fails), opens)
    return MayTry(True, fails=in_round)
