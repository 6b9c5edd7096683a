"""Meters, hanging weights, spot readings and plans as a tester fills them in, in a real browser and by keyboard."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import fitdecode
import pytest

from tests.web.furnished import furnish
from tests.web.serving import Server
from wattwitness.workflows.bench_changes import meters_on
from wattwitness.workflows.worksheets import kept_worksheets

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Dialog, Page

PATIENCE_MS = 60_000
UNNAMED = """() => [...document.querySelectorAll("main input, main select, main textarea, main button, main summary")]
    .filter((one) => !one.hidden && !(one.ariaLabel || one.labels?.[0]?.textContent.trim() || one.textContent.trim()))
    .map((one) => one.outerHTML)"""
WIDER = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
FOCUSED = "() => document.activeElement.name"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    started = Server(Path(tmp_path_factory.mktemp("forms")) / "bench")
    yield started
    started.end()


@pytest.fixture
def page(browser_context: BrowserContext) -> Iterator[Page]:
    opened = browser_context.new_page()
    faults: list[str] = []
    opened.on("pageerror", lambda error: faults.append(str(error)))
    opened.on("console", lambda message: faults.append(message.text) if "Content Security" in message.text else None)
    opened.set_default_timeout(PATIENCE_MS)
    yield opened
    opened.close(run_before_unload=False)
    assert faults == []


def opened(page: Page, server: Server, path: str) -> None:
    page.goto(server.address.rstrip("/") + path)
    page.wait_for_load_state("networkidle")


@pytest.mark.parametrize("path", ["/meters", "/weighing", "/spot", "/plan", "/plan?planned=yes&threshold_w=250"])
def test_every_field_has_a_name_and_nothing_is_cut_off(page: Page, server: Server, path: str) -> None:
    for width in (390, 1400):
        page.set_viewport_size({"width": width, "height": 900})
        opened(page, server, path)
        assert page.evaluate(UNNAMED) == []
        assert page.evaluate(WIDER) <= 0, f"the page scrolls sideways at {width} px"
    assert page.locator("h1").count() == 1


def test_a_worksheet_by_keyboard(page: Page, server: Server) -> None:
    """Rows are filled in and added with Enter alone; a slip is shown at its field, which has the focus."""
    opened(page, server, "/weighing")
    page.get_by_label("Meter").first.fill("keyboard pedals")
    rows = page.locator("#readings tr")
    for _ in range(13):
        page.locator("#readings [data-remove]").last.click()
    assert rows.count() == 1
    steps = ("zero_before", "up", "up", "up", "down", "zero_after")
    for place, (step, mass) in enumerate(zip(steps, (0, 10, 20, 30, 20, 0), strict=True)):
        row = rows.nth(place)
        row.locator("select[name^=step]").select_option(step)
        row.locator("[name^=lever_mm]").fill("172,5")
        if mass:
            row.locator("[name^=mass_kg]").fill(str(mass))
        reading = row.locator("[name^=reading_nm]")
        reading.fill("17x" if place == 1 else f"{mass * 9.81 * 0.1725:.2f}")
        if place < 5:
            reading.press("Enter")
            assert rows.count() == place + 2
            assert page.evaluate(FOCUSED).startswith("mass_kg."), "it begins at what is to be filled in"
    assert rows.nth(5).locator("[name^=lever_mm]").input_value() == "172,5", "what stays the same is copied"
    page.get_by_label("Keep the worksheet on the bench").check()
    page.get_by_role("button", name="What do the weights say?").click()
    page.locator(".at-field").wait_for()
    assert "Row 2" in page.locator(".at-field").inner_text()
    assert page.evaluate(FOCUSED) == rows.nth(1).locator("[name^=reading_nm]").get_attribute("name")
    page.keyboard.press("Control+a")
    page.keyboard.type("16.92")
    page.get_by_role("button", name="What do the weights say?").press("Enter")
    page.locator("#answer section").first.wait_for()
    assert page.locator(".at-field").count() == 0
    assert "keyboard pedals" in page.locator("#answer").inner_text().lower()
    assert "keyboard pedals" in page.locator("#kept").inner_text()
    (kept,) = (sheet for _, sheet in kept_worksheets(server.bench) if sheet.meter == "keyboard pedals")
    assert [reading.mass_kg for reading in kept.readings] == [0, 10, 20, 30, 20, 0]


def test_a_series_is_added_and_cells_are_pasted(page: Page, server: Server) -> None:
    opened(page, server, "/weighing")
    page.get_by_role("button", name="Add a series").click()
    rows = page.locator("#readings tr")
    assert rows.count() == 21
    added = rows.locator("select[name^=step]").all()[14:]
    assert [one.input_value() for one in added] == ["zero_before", "up", "up", "up", "down", "down", "zero_after"]
    page.evaluate(
        """() => {
            const field = document.querySelectorAll("#readings [name^=mass_kg]")[20];
            const data = new DataTransfer();
            data.setData("text/plain", "10\\t172.5\\t0\\t16.9\\r\\n20\\t172.5\\t0\\t33.8\\r\\n");
            field.dispatchEvent(new ClipboardEvent("paste", { clipboardData: data, bubbles: true, cancelable: true }));
        }"""
    )
    assert rows.count() == 22, "a row more, as one was pasted"
    assert rows.nth(21).locator("[name^=reading_nm]").input_value() == "33.8"
    assert rows.nth(21).locator(".row-number").inner_text() == "22"


def test_a_meter_is_described_and_described_again(page: Page, server: Server) -> None:
    opened(page, server, "/meters")
    page.get_by_label("Name", exact=False).first.fill("browser pedals")
    page.get_by_label("Where it takes the power").select_option("pedal")
    page.get_by_label("Battery").fill("180")
    page.get_by_role("button", name="Write it down").click()
    page.locator(".at-field").wait_for()
    assert page.evaluate(FOCUSED) == "setup.battery_pct"
    page.get_by_label("Battery").fill("18")
    page.get_by_role("button", name="Write it down").press("Enter")
    page.wait_for_url("**/meters/*")
    assert page.locator("h1").inner_text() == "browser pedals"
    assert "battery stood at 18" in page.locator("main").inner_text()
    assert page.get_by_role("heading", name="How uncertain it is").count() >= 1
    page.locator('[name="since_day"]').fill("2026-03-01")
    page.get_by_label("Battery").fill("95")
    page.get_by_role("button", name="Write it down").click()
    page.get_by_role("heading", name="From 1 March 2026 on, the latest").wait_for()
    (meter,) = (one for one in meters_on(server.bench) if one.name == "browser pedals")
    assert [setup.since_day for setup in meter.setups] == ["", "2026-03-01"]


def test_spot_readings_are_typed_and_lead_to_the_files(page: Page, server: Server) -> None:
    opened(page, server, "/spot")
    page.locator('[name="at.1"]').fill("0:30")
    page.locator('[name="shows_w.1"]').fill("148")
    page.locator('[name="shows_w.1"]').press("Enter")
    assert page.evaluate(FOCUSED) == "shows_w.2"
    page.locator('[name="at.2"]').fill("0:20")
    page.get_by_role("button", name="Put them among the files to add").click()
    page.locator(".at-field").wait_for()
    assert "not later than the reading before it" in page.locator(".at-field").inner_text()
    page.locator('[name="at.2"]').fill("0:45")
    page.locator('[name="at.2"]').press("ArrowUp")
    assert page.evaluate(FOCUSED) == "at.1"
    page.get_by_role("button", name="Put them among the files to add").click()
    page.wait_for_url("**/add/*")
    page.get_by_text("2 spot readings").first.wait_for(state="attached")


def test_readings_are_noted_live(page: Page, server: Server) -> None:
    opened(page, server, "/spot")
    page.get_by_role("button", name="Read it live: start the clock").click()
    assert page.evaluate(FOCUSED) == "shows_w.1"
    page.keyboard.type("151")
    assert page.locator('[name="at.1"]').input_value().startswith("0:0")


def test_a_plan_is_made_and_taken_along(page: Page, server: Server) -> None:
    opened(page, server, "/plan")
    page.locator('[name="limit_pct"]').fill("2")
    page.locator('[name="threshold_w"]').fill("260")
    page.locator('[name="threshold_w"]').press("Enter")
    page.wait_for_url("**/plan?*planned=yes*")
    assert "each on a day of its own" in page.locator("#answer").inner_text().replace("\\n", " ")
    with page.expect_download() as download:
        page.get_by_role("link", name="Workout of order A").click()
    with fitdecode.FitReader(io.BytesIO(Path(download.value.path()).read_bytes())) as fit:
        assert any(one.frame_type == fitdecode.FIT_FRAME_DATA and one.name == "workout_step" for one in fit)
    page.get_by_role("link", name="Ride sheet to print").click()
    page.get_by_role("heading", name="Ride sheet").wait_for()
    page.emulate_media(media="print")
    page.locator(".bar").wait_for(state="hidden")
    assert page.get_by_text("ask a physician first").first.is_visible()
    page.emulate_media(media="screen")
    page.go_back()
    assert page.locator('[name="threshold_w"]').input_value() == "260", "going back, what was asked is there"


def test_what_a_plan_fails_for_is_said_at_its_field(page: Page, server: Server) -> None:
    """Only when its steps are drawn up is it seen that no ride comes of them."""
    opened(page, server, "/plan")
    page.locator('[name="threshold_w"]').fill("30")
    page.get_by_role("button", name="Plan the rides").click()
    page.locator(".at-field").wait_for()
    assert "No ride can be planned" in page.locator(".at-field").inner_text()
    assert page.evaluate(FOCUSED) == "threshold_w"
    assert "--" not in page.locator(".at-field").inner_text(), "no option of a command is named to who fills in a form"


def test_a_page_says_when_another_one_changed_the_bench(
    page: Page, server: Server, browser_context: BrowserContext
) -> None:
    opened(page, server, "/record")
    other = browser_context.new_page()
    other.goto(server.address)
    other.locator("[name=text]").fill("Written in the other tab.")
    with other.expect_navigation():
        other.get_by_role("button", name="Keep the note").click()
    other.evaluate("dispatchEvent(new Event('focus'))")
    other.wait_for_load_state("networkidle")
    assert other.locator("#elsewhere").is_hidden()
    other.close()
    page.evaluate("dispatchEvent(new Event('focus'))")
    page.locator("#elsewhere").get_by_text("changed elsewhere").wait_for()
    with page.expect_navigation():
        page.locator("#elsewhere").get_by_role("button", name="Load it again").click()
    assert page.get_by_text("Written in the other tab").count() or page.get_by_text("note").count()
    assert page.locator("#elsewhere").is_hidden()


def test_what_was_typed_outlives_a_restart_of_the_program(page: Page, tmp_path: Path) -> None:
    server = Server(tmp_path / "bench")
    page.goto(server.address)
    page.locator("[name=text]").fill("Typed before the crash.")
    server.kill()
    page.get_by_role("button", name="Keep the note").click()
    page.locator(".wrong, #wrong p", has_text="does not answer").first.wait_for()
    again = Server(server.bench, port=server.port)
    try:
        with page.expect_navigation():
            page.get_by_role("button", name="Keep the note").click()
        page.locator(".own", has_text="Typed before the crash.").wait_for()
    finally:
        again.end()


def test_an_old_form_asks_before_it_puts_itself_in_place_of_what_was_written_since(page: Page, tmp_path: Path) -> None:
    server = Server(furnish(tmp_path / "bench", tmp_path / "files"))
    try:
        page.goto(f"{server.address}units/2")
        server.send("/units/2/ask", {"risk": "0.1"})
        page.locator("[name=at_w]").fill("200")
        asked: list[str] = []

        def refuse(dialog: Dialog) -> None:
            asked.append(dialog.message)
            dialog.dismiss()

        page.once("dialog", refuse)
        page.get_by_role("button", name="Keep what is asked").click()
        page.wait_for_timeout(500)
        assert "changed elsewhere" in asked[0]
        assert 'name="risk" inputmode="decimal" autocomplete="off" value="0.1"' in server.page("/units/2").text
        page.reload()
        page.locator("[name=at_w]").fill("200")
        with page.expect_navigation():
            page.get_by_role("button", name="Keep what is asked").click()
        assert page.locator("[name=risk]").input_value() == "0.1"
        assert page.locator("[name=at_w]").input_value() == "200.0"
    finally:
        server.end()


def test_words_typed_for_a_publication_outlive_the_program(page: Page, tmp_path: Path) -> None:
    """Killed while publishing, started again: the form says that it was broken off, and keeps what was typed."""
    server = Server(furnish(tmp_path / "bench", tmp_path / "files"))
    page.goto(f"{server.address}units/2/publish")
    page.locator("[name=notes]").fill("Half an hour of typing.")
    page.get_by_role("button", name="Make it").click()
    page.locator(".task").wait_for()
    server.kill()
    again = Server(server.bench, port=server.port)
    try:
        page.get_by_text("broken off").wait_for()
        assert page.locator("[name=notes]").input_value() == "Half an hour of typing."
        page.get_by_role("button", name="Make it").click()
        page.locator("details[open] summary", has_text="files").wait_for()
    finally:
        again.end()


def test_nothing_of_a_chart_is_hidden_on_paper(page: Page, server: Server) -> None:
    """A class of the page's own furniture must not be that of a mark in a chart."""
    page.goto(server.address)
    hidden = page.evaluate(
        """() => { const chart = document.createElementNS("http://www.w3.org/2000/svg", "svg");
        document.querySelector("main").append(chart);
        for (const name of ["bar", "line", "dot", "span", "level", "grid"]) {
            const mark = document.createElementNS("http://www.w3.org/2000/svg", "path");
            mark.setAttribute("class", name); chart.append(mark);
        } }"""
    )
    assert hidden is None
    page.emulate_media(media="print")
    shown = page.evaluate("[...document.querySelectorAll('main svg path')].map((one) => getComputedStyle(one).display)")
    assert shown
    assert "none" not in shown
    assert page.evaluate("getComputedStyle(document.querySelector('header.bar')).display") == "none"
    page.emulate_media(media="screen")
