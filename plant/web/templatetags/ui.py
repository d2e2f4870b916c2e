"""`{% load ui %}`: the parts of which every screen is made, so that no template copies markup.

Small words
    {% verdict check.verdict %}                    fits, caution, refused, cannot tell, not evaluated, notice
    {% verdict v size="large" %}                   the same, big (tablet, heads); also size="plate" (full-width plate)
    {% verdict v word="fits, 2 notices" %}         own words behind the same shape
    {% state roller_state %}                       bare, taped, partial, residue, unknown, do, blocked
    {% state "taped" word="taped, 4 wraps" %}
    {% num x "N/m" 2 %}                            1 234.50 N/m with tabular figures; None gives "not recorded"
    {% num x %} {% num x "mm" %}                   four significant figures
    {% mark "refused" 32 %}                        the shape alone (verdict or state word), size in px
    {% code_link "A05" url %}                      a roller, product or document code as a link

Blocks of a page
    {% crumbs trail %}                             trail = [(label, url), ..., (label, "")]
    {% hazard "DANGER" "Lock out and try to start before a hand goes near." %}      DANGER, WARNING, CAUTION, NOTICE
    {% hazard "NOTICE" text title="Start value" %}
    {% empty "No rollers yet" "Import them from a CSV file with a unit column." url "Import rollers" %}
    {% blocks blocks "Why not" %}                  each: .sentence; if it has them .position .since .who .url .action
    {% who_can_help "Lena Oduya (Check, Medical), on shift until 14:00" %}           also takes a list
    {% stat "Open blocks" 3 "" "oldest 40 min" url %}
    {% drawing svg "Line A, path 1" cells %}       cells = [(caption, value), ...]: the title block under the drawing
    {% grid caption columns rows %}                columns = ["Roller", ("Tension", "num")]; rows = lists of cells
    {% pager page %}                               a Django Page

Forms
    {% field form.width_mm unit="mm" %}            label, help, input, unit, error, all tied together for readers
    {% quantity form.tension_value form.tension_unit %}                              figure and unit side by side
    {% form_errors form %}                         summary at the top; each line is a link to its field
    {% sign_panel form meaning="I approve this recipe" name=me.name role="engineer" what="B09 v 3" action="Sign" %}
                                                   review, secret again, button; the form has a `secret` field
    {% signature s %}                              .printed_name .role .meaning .signed_at .digest .is_for_this_version

Classes for what has no tag: `panel`, `panel__head`, `split` (picture and side column), `stack`, `row`, `button`
(`button--main`, `button--danger`, `button--quiet`), `grid` on a table with `num` on number cells, `keyvalue` on a dl,
`chip`, `lede`, `soft`. The page /ui-gallery/ shows all of them in every state.
"""

from collections.abc import Iterable, Sequence
from typing import Any

from django import template
from django.conf import settings
from django.forms import BaseForm, BoundField, CheckboxInput, PasswordInput, RadioSelect
from django.forms.widgets import ChoiceWidget
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import get_language, gettext

from plant.web.svg import canvas, marks

register = template.Library()

SIGNAL_WORDS = {
    "DANGER": "refused",
    "WARNING": "caution",
    "CAUTION": "caution",
    "NOTICE": "notice",
}


def _marked(mark: marks.Mark, kind: str, word: str, size: str) -> SafeString:
    side = {"large": 30, "plate": 52}.get(size, 18)
    extra = f" {kind}--{size}" if size else ""
    return format_html(
        '<span class="{} tone-{}{}" data-{}="{}">{}<span class="word">{}</span></span>',
        kind,
        mark.tone,
        extra,
        kind,
        mark.key,
        marks.mark_svg(mark, side),
        gettext(str(word) or mark.word),
    )


@register.simple_tag
def verdict(value: object, word: str = "", size: str = "") -> SafeString:
    return _marked(marks.verdict_mark(value), "verdict", word, size)


@register.simple_tag
def state(value: object, word: str = "", size: str = "") -> SafeString:
    return _marked(marks.state_mark(value), "state", word, size)


@register.simple_tag
def mark(value: object, size: int = 20) -> SafeString:
    key = str(getattr(value, "value", value)).strip().lower().replace("_", "-").replace(" ", "-")
    found = marks.VERDICTS.get(key) or marks.state_mark(value)
    return marks.mark_svg(found, size)


@register.simple_tag
def num(value: Any, unit: str = "", digits: int | None = None) -> SafeString:
    if canvas.finite(value) is None:
        return format_html('<span class="num num--none">{}</span>', canvas.figure(value))
    shown = canvas.figure(value, digits)
    if not unit:
        return format_html('<span class="num">{}</span>', shown)
    return format_html('<span class="num">{}\u00a0<span class="unit">{}</span></span>', shown, unit)


@register.simple_tag
def code_link(code: str, url: str = "") -> SafeString:
    if not url:
        return format_html('<span class="code">{}</span>', code)
    return format_html('<a class="code" href="{}">{}</a>', url, code)


@register.inclusion_tag("ui/crumbs.html")
def crumbs(trail: Sequence[tuple[str, str]]) -> dict[str, Any]:
    return {"trail": trail}


@register.inclusion_tag("ui/hazard.html")
def hazard(signal: str, text: str, title: str = "") -> dict[str, Any]:
    if signal not in SIGNAL_WORDS:
        raise ValueError(f"{signal!r} is no signal word; use one of {', '.join(SIGNAL_WORDS)}")
    said = {"word": gettext(signal), "text": gettext(text), "title": gettext(title)}
    return {"signal": signal, "tone": SIGNAL_WORDS[signal]} | said


@register.inclusion_tag("ui/empty.html")
def empty(title: str, guidance: str, url: str = "", action: str = "") -> dict[str, Any]:
    return {"title": gettext(title), "guidance": gettext(guidance), "url": url, "action": gettext(action)}


@register.inclusion_tag("ui/blocks.html")
def blocks(items: Iterable[Any], heading: str = "", level: int = 2) -> dict[str, Any]:
    return {"items": items, "heading": gettext(heading), "level": level}


@register.inclusion_tag("ui/who_can_help.html")
def who_can_help(who: str | Sequence[str], lead: str = "Who can help") -> dict[str, Any]:
    return {"people": [who] if isinstance(who, str) else list(who), "lead": lead}


@register.inclusion_tag("ui/stat.html")
def stat(label: str, value: Any, unit: str = "", note: str = "", url: str = "", tone: str = "") -> dict[str, Any]:
    return {"label": label, "value": value, "unit": unit, "note": note, "url": url, "tone": tone}


@register.inclusion_tag("ui/drawing.html")
def drawing(svg: str, caption: str = "", cells: Sequence[tuple[str, Any]] = (), wide: bool = False) -> dict[str, Any]:
    return {"svg": svg, "caption": caption, "cells": cells, "wide": wide}


@register.inclusion_tag("ui/grid.html")
def grid(caption: str, columns: Sequence[Any], rows: Iterable[Sequence[Any]], empty_text: str = "") -> dict[str, Any]:
    heads = [(column, "") if isinstance(column, str) else tuple(column) for column in columns]
    kinds = [kind for _, kind in heads]
    lines = [list(zip(row, kinds, strict=True)) for row in rows]
    return {"caption": caption, "heads": heads, "lines": lines, "empty_text": empty_text}


@register.inclusion_tag("ui/pager.html", takes_context=True)
def pager(context: Any, page: Any) -> dict[str, Any]:
    return {"page": page, "request": context.get("request")}


def _wired(bound: BoundField, **extra: str) -> SafeString:
    """The input, tied to its help and error. Django 5 sets aria-describedby for help; the error comes first here."""
    described = [f"{bound.auto_id}-error"] if bound.errors else []
    if bound.help_text:
        described.append(f"{bound.auto_id}-help")
    attrs: dict[str, str | bool] = {key.replace("_", "-"): value for key, value in extra.items()}
    if described:
        attrs["aria-describedby"] = " ".join(described)
    return bound.as_widget(attrs=attrs)


def _speak(bound: BoundField) -> None:
    """Options in the language of the page. A form has its own copy of each field, so nobody else is touched."""
    widget = bound.field.widget
    if isinstance(widget, ChoiceWidget) and get_language() != settings.LANGUAGE_CODE:
        widget.choices = [
            (value, gettext(words) if isinstance(words, str) else words) for value, words in widget.choices
        ]


def _field_parts(bound: BoundField, unit: str = "", label: str = "") -> dict[str, Any]:
    widget = bound.field.widget
    _speak(bound)
    return {
        "bound": bound,
        "label": gettext(str(label or bound.label)),
        "help": gettext(str(bound.help_text)),
        "unit": unit,
        "input": _wired(bound),
        "is_check": isinstance(widget, CheckboxInput),
        "is_set": isinstance(widget, RadioSelect) or getattr(widget, "use_fieldset", False),
        "is_optional": not bound.field.required and not isinstance(widget, CheckboxInput),
    }


@register.inclusion_tag("ui/field.html")
def field(bound: BoundField, unit: str = "", label: str = "") -> dict[str, Any]:
    if not isinstance(bound, BoundField):
        raise ValueError("{% field %} got no field of a form; check its name in the template")
    if bound.is_hidden:
        return {"hidden": bound}
    return _field_parts(bound, unit, label)


@register.inclusion_tag("ui/quantity.html")
def quantity(value: BoundField, unit: BoundField, shown: str = "") -> dict[str, Any]:
    parts = _field_parts(value)
    parts["unit_input"] = _wired(unit, aria_label=f"Unit of {value.label}")
    parts["unit_bound"] = unit
    parts["shown"] = shown
    return parts


@register.inclusion_tag("ui/form_errors.html")
def form_errors(form: BaseForm) -> dict[str, Any]:
    named = [(form[name], messages) for name, messages in form.errors.items() if name in form.fields]
    secret = any(isinstance(field.widget, PasswordInput) for field in form.fields.values())  # never sent back
    return {"form": form, "named": named, "general": form.non_field_errors(), "secret": secret}


@register.inclusion_tag("ui/sign_panel.html", takes_context=True)
def sign_panel(
    context: Any,
    form: BaseForm,
    meaning: str,
    name: str,
    role: str = "",
    what: str = "",
    action: str = "Sign",
    url: str = "",
    digest: str = "",
) -> dict[str, Any]:
    return {
        "form": form,
        "secret": _field_parts(form["secret"]),
        "others": [bound for bound in form.visible_fields() if bound.name != "secret"],
        "meaning": meaning,
        "name": name,
        "role": role,
        "what": what,
        "action": action,
        "url": url,
        "digest": digest,
        "csrf_token": context.get("csrf_token"),
    }


@register.inclusion_tag("ui/signature.html")
def signature(signed: Any) -> dict[str, Any]:
    return {"s": signed}
