"""Sample drawings for the page that shows every part. All names and figures are invented."""

from typing import Any

from django.utils.safestring import SafeString

from plant.web import svg


def _bands(inner: float, outer: float, wraps: int, tape_mm: float, *ends: svg.End) -> tuple[svg.Band, ...]:
    return tuple(svg.Band(end, inner, outer, wraps, tape_mm) for end in ends or ("operator", "drive"))


def rollers(audience: svg.Audience = "desk") -> list[svg.RollerDrawing]:
    """Two ends, one end, the same turned end for end, stairs, and a bare one with gaps in its record."""
    two = svg.RollerDrawing(
        code="A05",
        product="SF-17",
        face_mm=1800,
        diameter_mm=120,
        web_width_mm=1500,
        wander_mm=5,
        rotation="cw",
        wrap_deg=120,
        tail="trails",
        state="taped",
        bands=_bands(600, 792, 4, 0.14),
        audience=audience,
        key=f"roller-a05-{audience}",
    )
    one = svg.RollerDrawing(
        code="B04",
        product="BO-35",
        face_mm=1750,
        diameter_mm=160,
        web_width_mm=1600,
        wander_mm=5,
        rotation="ccw",
        web_over="bottom",
        wrap_deg=85,
        tail="trails",
        state="taped",
        bands=_bands(700, 850, 1, 0.09, "operator"),
        audience=audience,
        key=f"roller-b04-{audience}",
    )
    stairs = svg.RollerDrawing(
        code="C06",
        product="ML-62",
        face_mm=800,
        diameter_mm=150,
        web_width_mm=640,
        wander_mm=5,
        rotation="cw",
        wrap_deg=110,
        tail="trails",
        state="taped",
        bands=tuple(svg.Band(end, 256, 356, 2, 0.09, stairs=(1, 2)) for end in ("operator", "drive")),
        audience=audience,
        key=f"roller-c06-{audience}",
    )
    bare = svg.RollerDrawing("D04", 400, 80, web_width_mm=300, wander_mm=5, state="bare", audience=audience)
    return [two, one, one.swapped(key=f"roller-b04-turned-{audience}"), stairs, bare]


# code number: diameter mm, wrap degrees, kind
_LINE_A = (
    (250, 180, "chill"),
    (120, 60, "idler"),
    (120, 90, "idler"),
    (150, 45, "load cell"),
    (120, 120, "idler"),
    (120, 35, "idler"),
    (200, 180, "nip"),
    (120, 80, "idler"),
    (300, 160, "winder drum"),
)
_LINE_B = (
    (160, 90, "idler"),
    (160, 40, "idler"),
    (200, 180, "steering"),
    (160, 85, "idler"),
    (160, 70, "load cell"),
    (250, 150, "coating"),
    (160, 20, "oven"),
    (160, 20, "oven"),
    (200, 95, "idler"),
    (300, 180, "chill"),
    (200, 120, "nip"),
    (160, 60, "idler"),
    (160, 100, "idler"),
    (300, 170, "winder drum"),
)


def _steps(
    letter: str, spec: tuple[tuple[int, int, str], ...], told: dict[int, dict[str, Any]]
) -> tuple[svg.Step, ...]:
    steps = []
    for number, (diameter, wrap, kind) in enumerate(spec, start=1):
        code = f"{letter}{number:02}"
        facts: dict[str, Any] = {"state": "bare", "href": f"#{code}", "rotation": "cw" if number % 2 else "ccw"}
        steps.append(svg.Step(code, kind, diameter, wrap, **(facts | told.get(number, {}))))
    return tuple(steps)


def boards(audience: svg.Audience = "desk") -> list[svg.LineDrawing]:
    """A line that may run, one that may not, one nobody has filled, and one of fifty rollers."""
    on = {"state": "taped", "verdict": "fits"}
    stop = {"state": "taped", "state_text": "taped × 1", "verdict": "refused", "attention": "blocked"}
    a = _steps("A", _LINE_A, {5: on | {"state_text": "taped × 4", "is_here": True}})
    told: dict[int, dict[str, Any]] = {
        1: {"state": "partial", "attention": "do", "attention_text": "do: finish"},
        2: {"state": "residue", "verdict": "caution"},
        4: stop,
        9: stop,
        13: {"state": "unknown", "verdict": "cannot tell"},
    }
    b = _steps("B", _LINE_B, told)
    long_line = _steps("L", (_LINE_A + _LINE_B + _LINE_A) * 2, {7: stop, 23: on, 41: on})[:50]
    return [
        svg.LineDrawing("Line A", a, "SF-17", audience, key=f"line-a-{audience}"),
        svg.LineDrawing("Line B", b, "CP-70", audience, key=f"line-b-{audience}"),
        svg.LineDrawing("Line E", (), audience=audience, key=f"line-e-{audience}"),
        svg.LineDrawing("Line L", long_line, audience=audience, key=f"line-l-{audience}"),
    ]


def _curve(wraps_per_newton: float) -> tuple[tuple[float, float], ...]:
    return tuple((float(tension), wraps_per_newton * tension) for tension in range(20, 81, 4))


def plots(audience: svg.Audience = "desk") -> list[tuple[SafeString, str]]:
    """Window, strain profile and bars, each with its caption; the figures are those of the invented plant."""
    ceiling = tuple((tension, 99.0) for tension, _ in _curve(0))
    window = svg.WindowPlot(
        "A05 with T1 crepe",
        zones=(
            svg.Zone("target", _curve(0.0525), _curve(0.105), "target 1.2 to 1.4"),
            svg.Zone("caution", _curve(0.158), _curve(0.263), "caution above 1.6"),
            svg.Zone("refused", _curve(0.263), ceiling, "refused above 2.0"),
        ),
        points=(
            svg.ProductPoint("SF-17", 50, 4, "fits", 45, 55),
            svg.ProductPoint("SF-23", 65, 4, "fits", 60, 72),
            svg.ProductPoint("trial", 40, 7, "caution", 36, 43),
        ),
        tries=(svg.TriedWorse(57, 6, "backed off at a restart"),),
        audience=audience,
        key=f"window-{audience}",
    )
    edge, centre = 3.197, 2.264
    profile = svg.StrainProfile(
        "A05 with SF-17",
        points=((-750, edge), (-600, edge), (-600, centre), (600, centre), (600, edge), (750, edge)),
        mean_pct=2.451,
        taped=(svg.Taped(-792, -600), svg.Taped(600, 792)),
        caution_pct=4.0,
        refuse_pct=6.4,
        audience=audience,
        key=f"profile-{audience}",
    )
    checks = svg.Bars(
        "Checks of B09 with BO-20",
        bars=(
            svg.Bar("Edge ratio", 1.24, "fits", "", 1.6, 2.0, 2),
            svg.Bar("Centre loss", 6.2, "fits", "%", 25, 40),
            svg.Bar("Traction used, tape", 0.83, "caution", "", 0.8, 1.0, 2),
            svg.Bar("Traction used, bare", 3.4, "refused", "", 0.8, 1.0, 2),
            svg.Bar("Peak strain of yield", 0.66, "cannot tell", "", 0.5, 0.8, 2),
            svg.Bar("Surface temperature", None, "not evaluated"),
            svg.Bar("Wrap angle", 95, "fits", "°", 60, 45),
        ),
        audience=audience,
        key=f"bars-{audience}",
    )
    return [
        (svg.window_plot(window), "Window of wraps, A05"),
        (svg.strain_profile(profile), "Strain across the web, A05"),
        (svg.bars(checks), "Checks, B09"),
    ]


def _span(audience: svg.Audience) -> svg.SpanMap:
    """A made-up field: pulled across in the middle near the roller, a little pressed at the taped edges."""
    along = tuple(1400.0 * row / 20 for row in range(21))
    across = tuple(-750.0 + 1500.0 * column / 30 for column in range(31))
    stress = tuple(
        tuple(110 * (x / 1400) ** 3 * (1 - 1.25 * (y / 750) ** 2) - 6 * (y / 750) for y in across) for x in along
    )
    shift = tuple(tuple(0.2 * (x / 1400) ** 2 * (y / 750) for y in across) for x in along)
    taped = (svg.Taped(-750, -600), svg.Taped(600, 750))
    return svg.SpanMap("Span of SF-17 at A05", along, across, stress, shift, taped, audience, f"span-{audience}")


def span_drawings(audience: svg.Audience = "desk") -> list[tuple[SafeString, svg.Table, str]]:
    """The span and what follows from it, each with its figures and its caption; all figures are invented."""
    span = _span(audience)
    stress = svg.CurvePlot(
        "MD stress of SF-17 at the roller",
        (
            svg.Curve(
                "in two dimensions", ((-750, 3.8), (-605, 3.8), (-595, 2.72), (595, 2.72), (605, 3.8), (750, 3.8))
            ),
            svg.Curve(
                "first order", ((-750, 3.84), (-600, 3.84), (-600, 2.7), (600, 2.7), (600, 3.84), (750, 3.84)), "broken"
            ),
        ),
        "from the web centre, mm",
        "MD stress, MPa",
        taped=span.taped,
        audience=audience,
        key=f"stress-{audience}",
    )
    margin = svg.MarginPlot(
        "Bare lane of SF-17 against misalignment",
        ((0.0, 94.0), (0.3, 93.0)),
        ((0.0, 0.0), (0.3, -0.4)),
        0.07,
        -20.6,
        None,
        0.21,
        audience,
        f"margin-{audience}",
    )
    levers = (
        svg.Lever("MD modulus", "108", "132 MPa", 44, 22, "Edge ratio"),
        svg.Lever("Tension", "45", "55 N/m", 20, 41, "Hold used round the wrap"),
        svg.Lever("Friction", "0.28", "0.42", 9, 36, "Hold used round the wrap"),
    )
    what = svg.Tornado("What matters most for SF-17", 33.0, levers, audience, f"tornado-{audience}")
    rungs = (svg.Rung("PT-12", 0.05, 0.045, 0.055, "refused"), svg.Rung("SF-17", 2.45, 2.2, 2.7, "fits"))
    ladder = svg.Ladder("Strains of A05", rungs, 0.933, audience, f"ladder-{audience}")
    lathe = svg.LatheProfile(
        "A05: dog-bone for the tape",
        "dog-bone",
        ((-900, 570), (-720, 570), (-480, 0), (480, 0), (720, 570), (900, 570)),
        (
            (-900, 0),
            (-792, 0),
            (-792, 560),
            (-600, 560),
            (-600, 0),
            (600, 0),
            (600, 560),
            (792, 560),
            (792, 0),
            (900, 0),
        ),
        70.0,
        1500.0,
        audience,
        f"lathe-{audience}",
    )
    return [
        (svg.span_map(span), svg.span_table(span), "Span, A05"),
        (svg.curve_plot(stress), svg.curve_table(stress), "MD stress, A05"),
        (svg.margin_plot(margin), svg.margin_table(margin), "Margin, A05"),
        (svg.tornado(what), svg.tornado_table(what), "What matters, A05"),
        (svg.strain_ladder(ladder), svg.ladder_table(ladder), "Strains, A05"),
        (svg.lathe_profile(lathe), svg.lathe_table(lathe), "Metal, A05"),
    ]
