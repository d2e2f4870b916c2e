"""Sample values for the page that shows every part of the screens in every state. All names are invented."""

from types import SimpleNamespace
from typing import Any

from django import forms
from django.utils.safestring import SafeString

from plant.web import svg
from plant.web.gallery_drawings import boards, plots, rollers, span_drawings
from plant.web.templatetags import ui

VERDICTS = ("fits", "caution", "refused", "cannot tell", "not evaluated", "notice")
STATES = ("bare", "taped", "partial", "residue", "unknown", "do", "blocked")
AS_OF = ("As of", "23 Mar 2026 09:41 +01:00")


class SampleForm(forms.Form):
    """One field of each sort."""

    name = forms.CharField(label="Recipe title", help_text="What the operator reads first.")
    width = forms.DecimalField(label="Web width", min_value=1, max_value=8000)
    tension = forms.DecimalField(label="Lowest tension", help_text="The lowest the line really runs, measured.")
    tension_unit = forms.ChoiceField(choices=[("N/m", "N/m"), ("pli", "lbf/in")])
    kind = forms.ChoiceField(label="Kind", choices=[("taped", "taped"), ("bare", "bare"), ("trial", "trial")])
    ends = forms.ChoiceField(
        label="Ends",
        widget=forms.RadioSelect,
        choices=[("both", "both ends"), ("operator", "operator end"), ("drive", "drive end")],
    )
    locked = forms.BooleanField(label="Locked out, and I tried to start it")
    reason = forms.CharField(label="Reason for the caution", widget=forms.Textarea, required=False)


class SampleSigning(forms.Form):
    """The secret, as every signing form has it."""

    secret = forms.CharField(
        label="Your password", widget=forms.PasswordInput(attrs={"autocomplete": "current-password"})
    )


def _drawings() -> list[tuple[SafeString, str, list[tuple[str, str]]]]:
    found = [
        (svg.line_drawing(board), f"{board.name}, path 1", [("Product", board.product or "none"), AS_OF])
        for board in boards()
    ]
    found += [(drawn, caption, [AS_OF]) for drawn, caption in plots()]
    found += [(drawn, caption, [AS_OF]) for drawn, _, caption in span_drawings()]
    cells = [("Recipe", "version 2, in force"), AS_OF]
    return found + [(svg.roller_drawing(roller), f"Roller {roller.code}", cells) for roller in rollers()]


def _rows() -> list[list[object]]:
    return [
        ["Edge ratio", ui.num(1.2412, "", 2), "1.60", "2.00", ui.verdict("fits")],
        ["Centre loss", ui.num(6.0, "%"), "25 %", "40 %", ui.verdict("fits")],
        ["Traction used, tape", ui.num(0.83, "", 2), "0.80", "1.00", ui.verdict("caution")],
        ["Roller surface temperature", ui.num(None), "", "", ui.verdict("not evaluated")],
        ["Peak strain of yield", ui.num(0.66, "", 2), "0.50", "0.80", ui.verdict("cannot tell")],
        ["Step marking", ui.num(2.2, "mm"), "", "", ui.verdict("notice")],
    ]


def _blocks() -> list[SimpleNamespace]:
    first = SimpleNamespace(
        position="B09",
        sentence="Taped with T5 × 1, but CP-70 must run bare: the edges would carry 2.40 times the mean strain.",
        who="Tomas Brandl (Apply, Food), on shift until 22:00",
        since="14:05",
        url="#",
        action="Open change sheet",
    )
    second = SimpleNamespace(
        position="B04",
        sentence="One-end tape is still on; its edge ratio would be 2.99.",
        who="Tomas Brandl (Apply, Food), on shift until 22:00",
        since="14:05",
        url="#",
        action="Open change sheet",
    )
    return [first, second]


def _signatures() -> list[SimpleNamespace]:
    return [
        SimpleNamespace(
            printed_name="Dara Whitlow",
            meaning="I sized this recipe.",
            role="process engineer",
            signed_at="23 Mar 2026 09:12 +01:00",
            digest="4f1c09b2d7aa3e5c8841a90e",
            is_for_this_version=True,
        ),
        SimpleNamespace(
            printed_name="Hanna Lindqvist",
            meaning="I approve this recipe for use.",
            role="shift supervisor",
            signed_at="23 Mar 2026 09:40 +01:00",
            digest="77b0c1d55e90f3a2446b12cd",
            is_for_this_version=False,
        ),
    ]


def gallery() -> dict[str, Any]:
    """The context `g` of ui/gallery.html, ui/gallery_tablet.html and ui/gallery_paper.html."""
    form = SampleForm(
        {"name": "SF-17 on A05", "width": "-3", "tension": "0.287", "tension_unit": "pli", "kind": "bare"}
    )
    form.is_valid()
    return {
        "trail": [("Lines", "#"), ("Line A", "#"), ("Parts", "")],
        "verdicts": VERDICTS,
        "states": STATES,
        "blocks": _blocks(),
        "hazards": [
            ("DANGER", "In-running nip. Lock out and try to start before a hand goes near."),
            ("WARNING", "Peeling tape can spark. Discharge it, and no solvent vapour near."),
            ("CAUTION", "Cut away from the body, never on the roller face. Count the knife out and in."),
        ],
        "standing": "Start value. Not a safety or product-release decision. Follow plant lockout, machine maker limits "
        "and product specification.",
        "helpers": ["Hanna Lindqvist, shift supervisor, here until 14:00", "Dara Whitlow, process engineer"],
        "facts": [
            ("Line strain", 2.451, "%"),
            ("Web width", 1500, "mm"),
            ("Metres since change", 128450, "m"),
            ("Air film", None, "µm"),
            ("Steering", -0.42, "mm"),
        ],
        "columns": ["Check", ("Value", "num"), ("Caution past", "num"), ("Refused past", "num"), "Verdict"],
        "rows": _rows(),
        "columns_short": ["Roller", "Product", "Recipe"],
        "none": [],
        "form": form,
        "sign_form": SampleSigning(),
        "signatures": _signatures(),
        "drawings": _drawings(),
        "tablet_roller": svg.roller_drawing(rollers("tablet")[0]),
        "tablet_line": svg.line_drawing(boards("tablet")[1]),
        "tablet_cells": [("Recipe", "version 2, in force"), AS_OF],
        "paper_roller": svg.roller_drawing(rollers("paper")[0]),
        "paper_line": svg.line_drawing(boards("paper")[1]),
        "paper_plots": plots("paper"),
        "paper_cells": [("Recipe", "version 2, in force"), AS_OF],
    }
