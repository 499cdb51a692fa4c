"""The page in a real browser: the whole way, accessibility, keyboard, narrow windows, dropping files, without scripts.

Needs a Chromium on the machine, and from the extra ``browser`` Playwright to drive it and axe-core (the accessibility
checks of WCAG 2.2 A and AA, and its best practices). The sheets are invented.
"""

from __future__ import annotations

import base64
import json
import os
import subprocess
import sys
from importlib import resources

import pytest
from harness import ROOT

from screen.page.folder import Batch

pytestmark = pytest.mark.browser
playwright = pytest.importorskip("playwright.sync_api", reason="needs the extra browser (Playwright and axe-core)")
axe = pytest.importorskip("axe_playwright_python", reason="needs the extra browser (Playwright and axe-core)")

_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
_PAGES = [
    "/",
    "/b/Harbour/sheets",
    "/b/Harbour/understood",
    "/b/Harbour/choices",
    "/b/Harbour/runs",
    "/b/Harbour/runs/1",
    "/b/Harbour/settings",
    "/b/None/sheets",
]
#: What a control is called, and every one that a reader can see and act on: of a group of circles the first, for the
#: arrow keys move among them; and the one that has the focus, with whether that shows.
_NAMED = """const named = (one) => one.type === "radio" ? one.name
  : one.id || one.textContent.trim() || one.title || one.getAttribute("aria-label");"""
_KINDS = "a[href], button, input:not([type=hidden]), summary, textarea, iframe, [tabindex='0']"
_CONTROLS = f"""() => {{ {_NAMED}
  const seen = new Set();
  return [...document.querySelectorAll("{_KINDS}")]
    .filter((one) => !one.disabled && one.checkVisibility() && one.getClientRects().length)
    .filter((one) => one.type !== "radio" || (!seen.has(one.name) && seen.add(one.name)))
    .map(named);
}}"""
_FOCUSED = f"""() => {{ {_NAMED}
  const one = document.activeElement;
  return [named(one), one.tagName === "IFRAME" || getComputedStyle(one).outlineStyle !== "none", one.tagName];
}}"""


def opened(window, server, width=1280, scheme="light", scripts=True):
    """A page that holds the token; ``asked`` is every address that it asked for, ``errors`` what went wrong in it."""
    context = window.new_context(
        viewport={"width": width, "height": 900},
        color_scheme=scheme,
        java_script_enabled=scripts,
        accept_downloads=True,
    )
    context.set_default_timeout(120_000)
    page = context.new_page()
    page.asked, page.errors = [], []
    page.on("request", lambda request: page.asked.append(request.url))
    page.on("console", lambda message: page.errors.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: page.errors.append(str(error)))
    page.goto(server.address)
    return page


def answer_all(page):
    """Answer every question: the first thing offered, but for what must be typed."""
    page.wait_for_selector("#questions")
    assert page.locator("main input:checked").count() == 0, "something was chosen beforehand"
    while page.locator(".question").count():
        for question in page.locator(".question").all():
            text = question.locator("legend").inner_text()
            if "Copperium" in text:
                question.get_by_label("It is the substance", exact=True).check()
                question.locator("input[type=text]").first.fill("copper")
            elif "Zelmarane" in text:
                question.get_by_label("Leave its rows out").check()
            elif question.get_attribute("data-code") == "no-basis":
                question.get_by_label("Wet weight").check()
                question.get_by_label("Because").fill("letter of the laboratory")
            else:
                question.locator("input[type=radio]").first.check()
        page.fill("#by", "AB")
        page.get_by_role("button", name="Take these answers").click()
        page.wait_for_selector("#questions")


def test_the_whole_way_ends_with_the_report_of_the_command_line(window, server, messy, tmp_path):
    page = opened(window, server)
    assert page.url == f"{server.root}/"
    page.fill("#name", "Harbour 2026")
    page.get_by_role("button", name="Begin").click()
    page.set_input_files("#sheets", messy["sheets"])
    page.set_input_files("#field", messy["field"])
    assert page.locator(".chosen li").first.inner_text().startswith("metals.xlsx, ")
    page.get_by_role("button", name="Add").click()
    page.get_by_role("link", name="Next: see what was understood").click()
    answer_all(page)
    assert "No question is open" in page.locator(".lead").inner_text()
    page.get_by_role("link", name="Next: levels and rules").click()
    assert "Nothing says what the water is for 3 samples" in page.locator("main").inner_text()
    page.get_by_label("Estuary").check()
    page.get_by_label("Title").fill("Marrow Wharf (invented)")
    page.get_by_role("button", name="Next: the run").click()
    shown = page.get_by_label("The settings of the next run").inner_text()
    page.get_by_role("button", name="Run", exact=True).click()
    page.wait_for_selector("iframe.report")
    report = page.frame_locator("iframe.report")
    assert report.locator("h1").inner_text() == "Marrow Wharf (invented)"
    assert report.locator("#sieve").is_visible(), "the script of the report runs in its sandbox"
    assert report.locator(".mark[data-finding=above]").count() > 0
    assert "read as Copper (AB)" in report.locator(".told").inner_text()

    with page.expect_download() as kept:
        page.get_by_text("Download", exact=True).click()
        page.get_by_role("link", name="The settings that it was made with").click()
    kept.value.save_as(tmp_path / "settings.toml")
    text = (tmp_path / "settings.toml").read_text(encoding="utf-8")
    assert text.strip() == shown.strip()
    with page.expect_download() as kept:
        page.get_by_role("link", name="The report, one file that opens anywhere").click()
    kept.value.save_as(tmp_path / "report.html")
    run = Batch(server.folder / "Harbour 2026").run(1)
    assert (tmp_path / "report.html").read_bytes() == (run.folder / "report.html").read_bytes()

    # the same settings and sheets by the command line, from where the sheets came
    place = messy["sheets"][0].parent
    (place / "settings.toml").write_text(text.replace('"field/field.csv"', '"field.csv"'), encoding="utf-8")
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "screen",
            "screen",
            "metals.xlsx",
            "organics.csv",
            "--settings",
            "settings.toml",
            "--out",
            "out",
        ],
        cwd=place,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        encoding="utf-8",
    )
    assert done.returncode == 0, done.stderr
    files = sorted(one.relative_to(run.folder) for one in run.folder.rglob("*") if one.is_file())
    assert files == sorted(one.relative_to(place / "out") for one in (place / "out").rglob("*") if one.is_file())
    for one in files:
        ours, theirs = (run.folder / one).read_bytes(), (place / "out" / one).read_bytes()
        if one.name == "run.json":
            ours, theirs = ({**json.loads(it), "started": 0, "seconds": 0} for it in (ours, theirs))
        assert ours == theirs, one
    assert page.errors == []
    assert all(one.startswith((server.root, "blob:")) for one in page.asked), page.asked
    page.context.close()


@pytest.fixture
def harbour(server, messy, window):
    """A server with a batch, its questions open, and one run."""
    page = opened(window, server)
    page.fill("#name", "Harbour")
    page.get_by_role("button", name="Begin").click()
    page.set_input_files("#sheets", messy["sheets"])
    page.set_input_files("#field", messy["field"])
    page.get_by_role("button", name="Add").click()
    page.goto(f"{server.root}/b/Harbour/runs")
    page.get_by_role("button", name="Run", exact=True).click()
    page.wait_for_selector("iframe.report")
    page.goto(f"{server.root}/b/Harbour/understood")
    page.wait_for_selector("#questions")
    page.context.close()
    return server


def violations(page):
    """What axe-core finds, everything unfolded."""
    page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
    page.evaluate(resources.files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8"))
    found = page.evaluate(
        "tags => axe.run({runOnly: {type: 'tag', values: tags}, resultTypes: ['violations'], iframes: false})", _TAGS
    )
    assert len(found["passes"]) > 12
    return [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found["violations"]]


def test_every_page_is_accessible_fits_and_is_reached_by_keyboard(window, harbour):
    for width, scheme in ((1280, "light"), (1280, "dark"), (390, "light"), (320, "dark")):
        page = opened(window, harbour, width, scheme)
        for path in _PAGES:
            page.goto(harbour.root + path)
            assert violations(page) == [], (path, width, scheme)
            assert page.evaluate("document.documentElement.scrollWidth") <= width, (path, width)
            if width == 1280 and scheme == "light":
                wanted = page.evaluate(_CONTROLS)
                page.evaluate("document.activeElement.blur(); scrollTo(0, 0)")
                met = []
                for _ in range(len(wanted) + 5):
                    page.keyboard.press("Tab")
                    name, shown, kind = page.evaluate(_FOCUSED)
                    assert shown or kind == "BODY", (path, name)
                    met.append(name)
                    if kind == "IFRAME":
                        break
                assert [one for one in wanted if one not in met] == [], path
        page.context.close()


def test_a_question_is_answered_by_keyboard_alone(window, harbour):
    page = opened(window, harbour)
    page.goto(f"{harbour.root}/b/Harbour/understood")
    question = page.locator('.question[data-code="no-basis"]').first
    question.locator("input[type=radio]").first.focus()
    page.keyboard.press("Space")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Tab")
    page.keyboard.type("letter")
    page.keyboard.press("Enter")
    page.wait_for_selector(".answers")
    assert "basis: dry weight, because letter" in page.locator(".answers").inner_text()
    page.context.close()


def test_what_was_not_taken_is_read_out_and_leads_to_its_question(window, harbour):
    page = opened(window, harbour)
    page.goto(f"{harbour.root}/b/Harbour/understood")
    question = page.locator(".question", has=page.locator("legend", has_text="Zelmarane"))
    question.get_by_label("It is the substance", exact=True).check()
    page.get_by_role("button", name="Take these answers").click()
    page.wait_for_selector("#problems")
    assert page.evaluate("document.activeElement.id") == "problems"
    assert "type the text that goes with your choice" in page.locator("#problems").inner_text()
    assert page.locator(".question .wrong").count() == 1
    assert violations(page) == []
    page.context.close()


def test_a_dropped_file_becomes_a_choice(window, server, messy):
    page = opened(window, server)
    page.fill("#name", "Dropped")
    page.get_by_role("button", name="Begin").click()
    page.wait_for_selector("#sheets")
    page.wait_for_load_state("load")
    page.evaluate(
        """([name, text]) => {
          const data = new DataTransfer();
          data.items.add(new File([Uint8Array.from(atob(text), (one) => one.charCodeAt(0))], name));
          const zone = document.querySelector(".drop");
          for (const kind of ["dragenter", "dragover", "drop"])
            zone.dispatchEvent(new DragEvent(kind, { dataTransfer: data, bubbles: true, cancelable: true }));
        }""",
        ["organics.csv", base64.b64encode(messy["sheets"][1].read_bytes()).decode()],
    )
    assert page.locator(".chosen li").first.inner_text().startswith("organics.csv")
    page.get_by_role("button", name="Add").click()
    page.wait_for_selector(".files")
    kept = Batch(server.folder / "Dropped").files("sheets")
    assert [one.read_bytes() for one in kept] == [messy["sheets"][1].read_bytes()]
    page.context.close()


def test_the_whole_way_without_scripts(window, server, messy):
    page = opened(window, server, scripts=False)
    page.fill("#name", "Plain")
    page.get_by_role("button", name="Begin").click()
    page.set_input_files("#sheets", messy["sheets"])
    page.get_by_role("button", name="Add").click()
    page.get_by_role("link", name="Next: see what was understood").click()
    answer_all(page)
    page.get_by_role("link", name="Next: levels and rules").click()
    page.get_by_role("button", name="Next: the run").click()
    page.get_by_role("button", name="Run", exact=True).click()
    page.wait_for_selector("iframe.report")
    assert Batch(server.folder / "Plain").run(1).whole
    page.context.close()


def test_progress_is_shown_while_a_run_goes_on_and_it_can_be_stopped(window, server, tmp_path):
    names = ["Lead", "Zinc", "Copper", "Nickel", "Arsenic", "Cadmium", "Mercury", "Chromium"]
    rows = [f"P-{n},S{n},{name},{n % 300},mg/kg,dry" for n in range(15_000) for name in names]
    path = tmp_path / "large.csv"
    path.write_text("\n".join(["Sample,Station,Analyte,Result,Unit,Basis", *rows]), encoding="utf-8")
    page = opened(window, server)
    page.fill("#name", "Large")
    page.get_by_role("button", name="Begin").click()
    page.set_input_files("#sheets", path)
    page.get_by_role("button", name="Add").click()
    page.goto(f"{server.root}/b/Large/runs")
    page.get_by_role("button", name="Run", exact=True).click()
    page.wait_for_selector("[data-steps] li", state="attached")
    said = page.locator("[data-steps]").inner_text()  # what is done within a second goes unsaid
    assert any(step in said for step in ("reading", "deciding", "bringing", "making sums", "summing up", "writing")), (
        said
    )
    page.get_by_role("button", name="Stop this run").click()
    page.wait_for_selector("text=nothing of it was kept")
    page.context.close()


def test_the_button_stops_the_server(window, server):
    page = opened(window, server)
    page.get_by_role("button", name="Stop Siltmark").click()
    page.wait_for_selector("text=Siltmark has stopped")
    assert server.process.wait(30) == 0
    page.context.close()
