"""Pictures of the main screens, from the demo plant: `python -m tests.browser.pictures FOLDER`.

With `--readme` it takes the one picture that the README shows instead, into the static files.
"""

import os
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

from tests import services
from tests.browser.seats import sign_in
from tests.browser.works import ROOT, Databases, Works

README_PICTURE = ROOT / "plant" / "static" / "plant" / "img" / "ready-board.png"
TUESDAY = "2026-03-24T10:05+01:00"
# Name, who looks, where.
DESK = (
    ("home", "hanna", "/"),
    ("board-blocked", "hanna", "/board/B/?product=CP-70"),
    ("board-ready", "hanna", "/board/A/?product=SF-23"),
    ("run-planned", "hanna", "/runs/{planned-B}/"),
    ("run-released", "hanna", "/runs/{released-A}/"),
    ("sizing-fits", "dara", "/sizing/A05/?products=SF-17&stock=T1&ends=both&inner=600&outer=792"),
    ("sizing-refused", "dara", "/sizing/B09/?products=CP-70&stock=T5&ends=both&inner=640&outer=840&wraps=4"),
    ("recipes", "dara", "/recipes/"),
    ("recipe-waiting", "dara", "/recipes/{waiting}/"),
    ("sheets", "hanna", "/sheets/"),
    ("position", "kwame", "/positions/B09/"),
    ("limits", "yuki", "/limits/"),
    ("who-may", "hanna", "/training/"),
    ("people", "noor", "/people/"),
)
TABLET = (
    ("lines", "ines", "/tablet/"),
    ("line", "ines", "/tablet/line/A/"),
    ("roller", "ines", "/tablet/roller/A05/?product=SF-17"),
    ("roller-one-end", "tomas", "/tablet/roller/B04/?product=BO-35"),
    ("may-not", "rui", "/tablet/roller/B09/?product=BO-35"),
    ("remove", "tomas", "/tablet/roller/B09/remove/?product=CP-70"),
)
FIND = """
from plant.floor.models import Run
from rollers.models import RecipeVersion
for run in Run.objects.filter(state__in=("planned", "released")).select_related("line"):
    print(f"{run.state}-{run.line.code}={run.pk}")
print(f"waiting={RecipeVersion.objects.get(state='checked').pk}")
"""


def seat(browser: Browser, works: Works, theme: str, tablet: bool) -> Page:
    size = {"width": 1280, "height": 800} if tablet else {"width": 1440, "height": 900}
    context = browser.new_context(
        base_url=works.url, viewport=size, color_scheme=theme, locale="en-GB", has_touch=tablet, is_mobile=tablet
    )
    return context.new_page()


def take_all(browser: Browser, works: Works, folder: Path) -> None:
    found = dict(line.split("=") for line in works.manage("shell", "-v0", "-c", FIND).split())
    for theme in ("light", "dark"):
        for kind, screens in (("desk", DESK), ("tablet", TABLET)):
            page, sitting = seat(browser, works, theme, kind == "tablet"), ""
            for name, who, where in screens:
                if who != sitting:
                    sign_in(page, who)
                    sitting = who
                answer = page.goto(where.format(**found))
                page.wait_for_load_state("networkidle")
                path = folder / f"{kind}-{theme}-{name}.png"
                page.screenshot(path=path, full_page=True)
                print(answer.status if answer else "-", path)
            page.context.close()


def take_readme(browser: Browser, works: Works) -> None:
    """The ready board down to the end of the drawing."""
    page = seat(browser, works, "light", tablet=False)
    sign_in(page, "hanna", "/board/B/?product=CP-70")
    page.wait_for_load_state("networkidle")
    box = page.locator("#answer svg.drawing").first.bounding_box()
    height = round(box["y"] + box["height"] + 60) if box else 900
    page.set_viewport_size({"width": 1440, "height": height})
    README_PICTURE.parent.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=README_PICTURE)
    print(README_PICTURE.relative_to(ROOT))


def main() -> None:
    if len(sys.argv) != 2:
        raise SystemExit("Name the folder for the pictures, or --readme.")
    found = services.find_chromium()
    if found is None:
        raise SystemExit("Chromium is not on this machine; ./dev test says how to get it.")
    if node := services.playwright_node():
        os.environ["PLAYWRIGHT_NODEJS_PATH"] = node
    with tempfile.TemporaryDirectory(prefix="pictures-") as scratch, sync_playwright() as playwright:
        os.environ["BANDKEEPER_SCRATCH"] = scratch
        works = Works(Databases(), TUESDAY)
        browser = playwright.chromium.launch(
            executable_path=found.program, args=list(found.arguments), env={**os.environ, **found.environment}
        )
        try:
            works.start()
            if sys.argv[1] == "--readme":
                take_readme(browser, works)
            else:
                folder = Path(sys.argv[1])
                folder.mkdir(parents=True, exist_ok=True)
                take_all(browser, works, folder)
        finally:
            browser.close()
            works.stop()


if __name__ == "__main__":
    main()
