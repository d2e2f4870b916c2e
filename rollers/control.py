"""Times, counts and shares of tape control: our defaults with their source, and what the plant made of them.

All are our own proposals or common practice of the trade; no standard sets them for this work. The plant changes them
by engineer and QA together; what was judged by an older version is not judged again.
"""

from dataclasses import dataclass

from rollers.models import ControlSet


@dataclass(frozen=True)
class Control:
    """One setting: its bounds are what makes sense, not what is wise."""

    key: str
    default: float
    unit: str
    low: float
    high: float
    sentence: str
    source: str = "our proposal"


CONTROLS = (
    Control("outside_window_minutes", 10, "min", 1, 60, "A tension below the recipe's window blocks after this time"),
    Control("re_check_days", 7, "d", 0, 30, "General rooms run on while changed product data are computed again"),
    Control("diameter_change_pct", 2, "%", 0.1, 10, "A regrind above this asks for the recipe to be tested again"),
    Control("tape_cap", 3, "rollers", 1, 20, "Taped rollers of a line; one more needs a reason and tells the manager"),
    Control("review_days", 90, "d", 7, 365, "Still needed? is asked this long after taping"),
    Control("run_without_days", 14, "d", 1, 60, "A run without tape is due this long after its cause was fixed"),
    Control(
        "ground_days", 30, "d", 1, 365, "A decision for tape rests on a line walk and cause sheet not older than this"
    ),
    Control("emergency_hours", 24, "h", 1, 48, "Line walk and cause sheet follow within this time, or tape comes off"),
    Control("override_hours", 12, "h", 1, 12, "An override ends after this time or with the shift, whichever is first"),
    Control("overrides_in_30_days", 3, "", 2, 10, "This many overrides of one rule on one line reach the manager"),
    Control("look_days_general", 1, "d", 0.25, 7, "General rooms: taped rollers are looked at this often"),
    Control("look_shifts_strict", 1, "shifts", 1, 3, "Food and medical rooms: looked at once in so many shifts"),
    Control("first_look_minutes", 30, "min", 10, 120, "First look after a release"),
    Control("look_grace_pct", 25, "%", 0, 50, "Grace in general rooms, of the interval; food and medical have none"),
    Control("look_grace_hours", 24, "h", 0, 48, "Grace is never longer than this"),
    Control("late_hours", 2, "h", 0.5, 12, "A record made later than this is a late entry and needs a reason"),
    Control("clock_ahead_minutes", 2, "min", 0.5, 10, "A time further ahead than this is refused"),
    Control("length_tolerance_pct", 5, "%", 1, 10, "Lengths may differ by this; pieces never", "common practice"),
    Control("thickness_off_pct", 10, "%", 2, 20, "A lot whose thickness is off by more is held", "common practice"),
    Control("lockout_minutes", 12, "min", 0, 120, "To stop, lock out, and give back: once per stop of the line"),
    Control("walk_minutes", 2, "min", 0, 60, "From one roller to the next, with tools"),
    Control("late_weight", 3, "", 0, 100, "A minute late counts as so many minutes of work when runs are ordered"),
    Control("crawl_m_per_min", 30, "m/min", 1, 100, "Restart: at most this speed in the first step", "common practice"),
    Control("crawl_minutes", 2, "min", 0, 30, "Restart: crawl at least this long", "common practice"),
    Control("half_minutes", 5, "min", 0, 60, "Restart: half speed at least this long", "common practice"),
    Control(
        "full_minutes", 30, "min", 0, 240, "Restart: full speed at least this long, or one roll", "common practice"
    ),
    Control("escalate_critical_minutes", 15, "min", 1, 60, "A critical alert that nobody takes goes one up"),
    Control("escalate_major_minutes", 240, "min", 15, 1440, "A major alert that nobody takes goes one up"),
    Control("block_alert_minutes", 30, "min", 5, 240, "A block older than this raises an alert"),
    Control("dwell_minutes", 10, "min", 0, 60, "Pressed tape rests this long before it is measured", "from memory"),
    Control("face_min_c", 15, "°C", 0, 40, "The face is at least this warm when taped", "from memory"),
    Control("face_max_c", 40, "°C", 20, 120, "The face is at most this warm when taped", "from memory"),
)
BY_KEY = {control.key: control for control in CONTROLS}


def controls() -> dict[str, float]:
    """The settings that hold now, by key."""
    newest = ControlSet.objects.order_by("-number").first()
    changed = newest.values if newest else {}
    return {control.key: float(changed.get(control.key, control.default)) for control in CONTROLS}


def control(key: str) -> float:
    """One setting that holds now."""
    return controls()[key]
