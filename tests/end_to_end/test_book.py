"""The job book in a real browser: what a maker does on the page, from the first answer to the printed sheet."""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sync_api = pytest.importorskip("playwright.sync_api", reason="the book's pages are tried with: pip install '.[page]'")
CHROMIUM = next(
    (path for name in ("chromium", "chromium-browser", "google-chrome") if (path := shutil.which(name))), ""
)
pytestmark = [
    pytest.mark.long,
    pytest.mark.skipif(not CHROMIUM, reason="no Chromium here to open the book with; Debian: apt install chromium"),
]

AXE = Path(__file__).parents[1] / "common" / "axe" / "axe.min.js"
COARSE = """
title = "A cloak to try the book with"
[figure]
body = "ferry-warden"
[cloth]
cloth = "heavy melton"
[draft]
neck = "tailored"
length_cm = 100.0
[closure]
place = "right shoulder"
[[dart]]
length_cm = 15.0
[settle]
edge_length_cm = 5.0
"""
SOON, LATE = 120_000, 600_000  # [ms]; a machine that does much else is slow


@contextlib.contextmanager
def served(folder: Path) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """The first address of a folder's book, and its process."""
    command = [sys.executable, "-m", "drape", "book", str(folder), "--no-browser", "--json"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=folder.parent) as process:
        try:
            yield json.loads(process.stdout.readline())["url"], process
        finally:
            process.kill()


@pytest.fixture(scope="module")
def browser():
    with sync_api.sync_playwright() as play:
        graphics = ["--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
        browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", *graphics])
        yield browser
        browser.close()


class Opened:
    """A page open on the book, and everything it asked for or complained of."""

    def __init__(self, browser, url, *, width=1200):
        self.context = browser.new_context(viewport={"width": width, "height": 900}, reduced_motion="reduce")
        self.page = self.context.new_page()
        self.requests, self.complaints = [], []
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.on("console", lambda said: self.complaints.append(said.text) if said.type == "error" else None)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.goto(url)

    def at_rest(self, entries):
        self.page.wait_for_selector(f".ledger > li:nth-child({entries})", timeout=LATE)
        self.page.wait_for_selector('[data-state="rest"]', timeout=LATE)

    @property
    def entries(self):
        return self.page.locator(".ledger > li").count()


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("book")
    (folder / "pencil.toml").write_text(COARSE, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def book(folder, browser):
    with served(folder) as (url, _):
        opened = Opened(browser, url)
        opened.at_rest(1)
        yield opened
        opened.context.close()


def open_number(page):
    return int(re.findall(r"\d+", page.locator(".ledger li.open h3").inner_text())[0])


def test_the_first_answer_is_there_and_the_cloth_was_seen_to_settle(book):
    assert book.page.locator("#answer .conclusion").inner_text().strip()
    assert "settling" not in book.page.locator("#answer .conclusion").inner_text()
    assert int(book.page.locator("#cloak").get_attribute("data-frames")) > 3


def test_what_settled_once_is_made_sure_of_and_the_entry_stays_one(book):
    book.page.wait_for_selector("#answer .hint >> text=/Settled \\d times, each time from scratch/", timeout=LATE)
    assert book.entries == 1 and book.page.locator("#answer .so-far").count() == 0


def test_the_neck_is_drawn_in_lines(book):
    from PIL import Image

    drawn = Image.open(io.BytesIO(book.page.locator("#flat-near").screenshot())).convert("L")
    dark = sum(drawn.histogram()[:80]) / (drawn.width * drawn.height)
    assert 0.001 < dark < 0.06


def test_a_cloth_is_worked_out_of_tests_typed_on_the_page(book, folder):
    page = book.page
    page.evaluate("document.getElementById('tests').open = true")
    for name, typed in (("name", "grey melton"), ("square.side_cm", "20"), ("square.mass_g", "22,1")):
        page.locator(f'#tests [name="{name}"]').fill(typed)
    page.locator("#tests button[type=submit]").click()
    page.wait_for_selector("#order .errand .why >> text=/square.mass_g: got .22,1./", timeout=LATE)
    page.locator('#tests [name="square.mass_g"]').fill("22.1 22.4")
    page.locator("#tests button[type=submit]").click()
    page.wait_for_selector("#order .errand [data-do=take]", timeout=LATE)
    assert list(folder.glob("grey-melton*-cloth/grey-melton*-cloth.toml"))


def test_a_dart_point_dragged_makes_the_next_entry_and_undo_goes_back(book, folder):
    page, before = book.page, book.entries
    point = page.locator('#flat-near [data-handle="dart.0.length_cm"]')
    point.scroll_into_view_if_needed()
    box = point.locator(".knob").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y - 8, steps=4)
    page.mouse.up()
    book.at_rest(before + 1)
    moved = float(point.get_attribute("aria-valuenow"))
    assert moved > 15.0
    assert f"length_cm = {moved}" in (folder / f"entry-{before + 1}.toml").read_text(encoding="utf-8")
    assert "now" in page.locator(".ledger > li").first.locator(".from").inner_text()
    page.locator("[data-undo]").click()
    page.wait_for_selector('.ledger li.open h3:has-text("Entry 1")', timeout=SOON)
    page.wait_for_selector('[data-handle="dart.0.length_cm"][aria-valuenow="15.0"]', timeout=SOON)
    assert open_number(page) == 1 and book.entries == before + 1


def test_arrow_keys_move_a_point_by_a_millimetre(book):
    page, before = book.page, book.entries
    point = page.locator('#flat-near [data-handle="draft.back_neck_depth_cm"]')
    value = float(point.get_attribute("aria-valuenow"))
    point.focus()
    page.keyboard.press("ArrowUp")
    page.wait_for_selector(f'[data-handle="draft.back_neck_depth_cm"][aria-valuenow="{value + 0.1:.1f}"]', timeout=SOON)
    book.at_rest(before + 1)
    assert page.evaluate("document.activeElement.dataset.handle") == "draft.back_neck_depth_cm"


def test_a_wrong_value_is_told_beside_its_field_and_changes_nothing(book, folder):
    page, before = book.page, book.entries
    field = page.locator("#f-draft-length_cm")
    field.fill("1000")
    why = page.locator("#f-draft-length_cm-why")
    why.wait_for(timeout=SOON)
    assert why.inner_text().startswith("Got 1000, allowed 15 to 200 cm.")
    assert field.get_attribute("aria-invalid") == "true" and "length_cm = 1000" not in pencil(folder)
    page.reload()
    page.wait_for_selector("#f-draft-length_cm-why", timeout=SOON)
    assert page.locator("#f-draft-length_cm").input_value() == "1000"  # what was typed is kept
    page.locator("#f-draft-length_cm").fill("100")
    why.wait_for(state="detached", timeout=SOON)
    assert book.entries == before


def pencil(folder):
    return (folder / "pencil.toml").read_text(encoding="utf-8")


def test_two_entries_are_laid_over_each_other_and_one_is_pinned(book):
    page = book.page
    page.wait_for_selector('[data-state="rest"]', timeout=LATE)
    page.locator('.ledger [data-do="lay"]').last.click()
    page.wait_for_selector('#cloak[data-laid="true"]', timeout=SOON)
    assert page.locator(".ledger .tag", has_text="laid over").count() == 1
    page.locator('.ledger [data-do="pin"]').last.click()
    page.wait_for_selector(".ledger .tag >> text=pinned", timeout=SOON)
    assert "change from it" in page.locator("#entries thead").inner_text()


def test_a_fault_shows_its_place_and_what_it_asks_for_is_tried(book):
    page = book.page
    page.wait_for_selector('[data-state="rest"]', timeout=LATE)
    page.locator("[data-place]").first.click()
    page.wait_for_selector("#cloak[aria-description]", timeout=SOON)
    page.wait_for_selector('[data-do="try"]', timeout=LATE)
    before = book.entries
    page.locator('[data-do="try"]').first.click()
    book.at_rest(before + 1)
    assert book.entries == before + 1


def test_the_job_sheet_and_the_fitting_sheet_print(book):
    page = book.page
    page.wait_for_selector('[data-state="rest"]', timeout=LATE)
    for size in ("A4", "Letter"):
        whole = page.pdf(format=size)
        page.evaluate("document.body.classList.add('print-sheet')")
        sheet = page.pdf(format=size)
        page.evaluate("document.body.classList.remove('print-sheet')")
        assert whole.startswith(b"%PDF") and page_count(whole) > 1
        assert page_count(sheet) == 1


def page_count(pdf):
    import pypdfium2

    document = pypdfium2.PdfDocument(pdf)
    with contextlib.closing(document):
        return len(document)


@pytest.mark.parametrize("width", [1440, 768, 360])
def test_nothing_serious_is_found_by_axe_and_nothing_runs_off_the_page(book, width):
    page = book.page
    page.set_viewport_size({"width": width, "height": 900})
    page.wait_for_selector('[data-state="rest"]', timeout=LATE)
    page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate("axe.run().then((told) => told.violations)")
    serious = [f"{one['id']}: {one['nodes'][0]['html'][:150]}" for one in found if one["impact"] in HEAVY]
    assert serious == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.evaluate("document.documentElement.style.fontSize = '200%'")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.evaluate("document.documentElement.style.fontSize = ''")


HEAVY = ("serious", "critical")


def test_no_request_left_the_machine_and_nothing_was_complained_of(book):
    here = book.page.url.rstrip("/")
    assert [url for url in book.requests if not url.startswith((here, "data:", "blob:"))] == []
    assert len(book.requests) > 5
    assert book.complaints == []


def test_killed_and_started_again_the_book_has_lost_nothing(folder, browser, book):
    with served(folder) as (url, process):
        first = Opened(browser, url)
        first.at_rest(1)
        count = first.entries
        first.page.locator("#f-title").fill("Killed before it was done")
        for _ in range(100):
            if "Killed before it was done" in pencil(folder):
                break
            first.page.wait_for_timeout(100)
        os.kill(process.pid, signal.SIGKILL)
        process.wait()
        first.page.wait_for_selector("#line-lost:not([hidden])", timeout=SOON)
        first.context.close()
    with served(folder) as (url, _):
        again = Opened(browser, url)
        again.page.wait_for_selector(f".ledger > li:nth-child({count})", timeout=SOON)
        assert again.page.locator("#f-title").input_value() == "Killed before it was done"
        again.context.close()
