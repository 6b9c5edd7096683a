"""Adding rides as a tester does, in a real browser: by dropping, by keyboard, through a crash and a cancel."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.incoming_files import pair, table
from tests.web.serving import Server
from wattwitness.workflows.bench import bench_holds

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, CDPSession, Page

NAME_OF_FOCUSED = """() => {
    const one = document.activeElement;
    return one.ariaLabel || one.labels?.[0]?.textContent || one.textContent;
}"""
PATIENCE_MS = 60_000


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    started = Server(tmp_path / "bench")
    yield started
    started.end()


@pytest.fixture
def page(browser_context: BrowserContext) -> Iterator[Page]:
    opened = browser_context.new_page()
    faults: list[str] = []
    opened.on("pageerror", lambda error: faults.append(str(error)))
    opened.set_default_timeout(PATIENCE_MS)
    yield opened
    opened.close(run_before_unload=False)
    assert faults == []


def written(folder: Path, files: dict[str, bytes]) -> list[Path]:
    folder.mkdir(exist_ok=True)
    for name, content in files.items():
        (folder / name).write_bytes(content)
    return [folder / name for name in files]


def states(page: Page, state: str, count: int) -> None:
    page.locator(f"#list > [data-state={state}]").nth(count - 1).wait_for()
    assert page.locator(f"#list > [data-state={state}]").count() == count


def slowly(page: Page, bytes_per_s: int) -> CDPSession:
    """The line to the server as slow as that, so that something can happen while a file is sent."""
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    set_speed(session, bytes_per_s)
    return session


def set_speed(session: CDPSession, bytes_per_s: int) -> None:
    conditions = {"offline": False, "latency": 0, "downloadThroughput": -1, "uploadThroughput": bytes_per_s}
    session.send("Network.emulateNetworkConditions", conditions)


def drop(page: Page, entries: list[Path]) -> None:
    """Files and folders let fall from outside, through the browser's own handling of a drag."""
    session = page.context.new_cdp_session(page)
    data: dict[str, Any] = {"items": [], "files": [str(path) for path in entries], "dragOperationsMask": 1}
    for kind in ("dragEnter", "dragOver", "drop"):
        session.send("Input.dispatchDragEvent", {"type": kind, "x": 300, "y": 250, "data": data})


def test_a_folder_is_dropped_with_a_corrupt_file_in_it(server: Server, page: Page, tmp_path: Path) -> None:
    """From the empty bench to the unit, by mouse: the good ones are kept, the bad one is named."""
    written(tmp_path / "winter", {**pair(1), **pair(2), "broken.fit": b"\x0e\x10.FIT nothing", "again.csv": table(1)})
    page.goto(server.address)
    page.get_by_role("link", name="Add rides").last.click()
    page.wait_for_url("**/add")
    drop(page, [tmp_path / "winter"])
    states(page, "read", 4)
    states(page, "wrong", 1)
    states(page, "same", 1)
    assert "broken.fit" in page.locator("[data-state=wrong]").inner_text()
    page.get_by_role("button", name="See which belong together").click()
    page.wait_for_url("**/rides")
    assert page.locator(".pair-list .pair").count() == 2
    page.get_by_text("Say something for all ticked rides").click()
    page.locator("[data-all=unit_name]").fill("bike <b>B</b>")
    page.locator("[data-all=rider]").fill("rider A")
    page.get_by_role("button", name="Put these in").click()
    page.get_by_label("Keep this ride").nth(1).uncheck()
    page.get_by_role("button", name="Keep these rides").click()
    page.wait_for_url("**/units/**")
    (ride,) = bench_holds(server.bench, check=True).rides
    assert (ride.unit, ride.noted.rider) == ("bike <b>B</b>", "rider A")
    page.goto(f"{server.address}add")
    assert "2 more" not in page.locator(".waiting").inner_text()
    page.locator(".waiting a").click()
    states(page, "read", 2)


def test_the_server_is_killed_while_files_are_sent(server: Server, page: Page, tmp_path: Path) -> None:
    """The page waits, takes the server up again as it comes back on its port, and sends what is missing by itself."""
    files = written(tmp_path / "in", pair(1))
    page.goto(f"{server.address}add")
    line = slowly(page, 20_000)
    page.set_input_files("#files", files)
    page.locator("#list .state", has_text="being sent").first.wait_for()
    batch = page.url.rsplit("/", 1)[1]
    server.kill()
    page.locator(".trouble", has_text="does not answer").first.wait_for()
    set_speed(line, -1)
    again = Server(server.bench, port=server.port)
    try:
        states(page, "read", 2)
        assert page.url.endswith(batch)
        page.get_by_role("button", name="See which belong together").click()
        page.wait_for_url("**/rides")
        page.get_by_label("Rider").fill("rider A")
        page.wait_for_timeout(700)
        again.kill()
        again = Server(server.bench, port=server.port)
        page.reload()
        assert page.get_by_label("Rider").input_value() == "rider A"
        page.get_by_role("button", name="Keep these rides").click()
        page.wait_for_url("**/units/**")
        assert len(bench_holds(server.bench, check=True).rides) == 1
    finally:
        again.end()


def test_sending_is_stopped_and_taken_up_again(server: Server, page: Page, tmp_path: Path) -> None:
    # Long ones, so that none has arrived in one piece before the sending is stopped.
    long = {name: table(day, gain=gain, seconds=20_000) for day in (1, 2) for gain, name in enumerate(pair(day), 1)}
    files = written(tmp_path / "in", long)
    page.goto(f"{server.address}add")
    line = slowly(page, 8_000)
    page.set_input_files("#files", files)
    page.locator("#list .state", has_text="being sent").nth(2).wait_for()
    page.get_by_role("button", name="Take out day 2 bike.csv").click()
    page.locator("[data-name='day 2 bike.csv']").wait_for(state="detached")
    page.get_by_role("button", name="Stop sending").click()
    states(page, "awaited", 3)
    set_speed(line, -1)
    page.reload()
    assert "cut short" in page.locator("#missing").inner_text()
    page.set_input_files("#files", files[:2])
    states(page, "read", 2)
    page.get_by_role("button", name="Take out what is not here").click()
    page.locator("[data-state=awaited]").first.wait_for(state="detached")
    assert page.locator("#list > li").count() == 2
    page.once("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="Throw these files away").click()
    page.wait_for_url("**/add")
    assert page.locator(".waiting").count() == 0


def test_by_keyboard_alone(server: Server, page: Page, tmp_path: Path) -> None:
    """Files chosen, rides swapped and kept without a mouse; what has the focus can be seen."""
    files = written(tmp_path / "in", {"one.csv": table(1), "other.csv": table(1, gain=0.95)})
    page.goto(f"{server.address}add")
    to(page, "Choose files")
    page.bring_to_front()
    with page.expect_file_chooser() as chooser:
        page.keyboard.press("Enter")
    chooser.value.set_files(files)
    states(page, "read", 2)
    to(page, "See which belong together")
    page.keyboard.press("Enter")
    page.wait_for_url("**/rides")
    assert "reference cannot be told" in page.locator(".pair .wrong").inner_text()
    to(page, "Keep this ride")
    page.keyboard.press("Space")
    before = page.locator("[name=unit]").first.input_value()
    to(page, "Swap")
    page.keyboard.press("Enter")
    assert page.locator("[name=reference]").first.input_value() == before
    to(page, "Name of the unit")
    page.keyboard.press("Control+A")
    page.keyboard.type("bike")
    to(page, "Keep these rides")
    page.keyboard.press("Enter")
    page.wait_for_url("**/units/**")
    assert bench_holds(server.bench, check=False).rides[0].unit == "bike"


def to(page: Page, name: str) -> None:
    """Press Tab until what is called so has the focus."""
    for _ in range(60):
        page.keyboard.press("Tab")
        words = page.evaluate(NAME_OF_FOCUSED)
        if words.strip().startswith(name):
            return
    raise AssertionError(f"“{name}” is not reached by Tab")


def test_two_tabs_keep_the_same_rides(
    server: Server, page: Page, tmp_path: Path, browser_context: BrowserContext
) -> None:
    page.goto(f"{server.address}add")
    page.set_input_files("#files", written(tmp_path / "in", pair(1)))
    states(page, "read", 2)
    page.get_by_role("button", name="See which belong together").click()
    page.wait_for_url("**/rides")
    other = browser_context.new_page()
    other.goto(page.url)
    page.get_by_role("button", name="Keep these rides").click()
    page.wait_for_url("**/units/**")
    other.get_by_role("button", name="Keep these rides").click()
    other.locator("#wrong", has_text="no longer here").wait_for()
    other.close()
    assert len(bench_holds(server.bench, check=True).rides) == 1


def test_a_phone_needs_no_sideways_scrolling(server: Server, page: Page, tmp_path: Path) -> None:
    page.set_viewport_size({"width": 390, "height": 800})
    page.goto(f"{server.address}add")
    page.set_input_files("#files", written(tmp_path / "in", {**pair(1), f"{'long' * 40}.csv": b"x"}))
    states(page, "read", 2)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.get_by_role("button", name="See which belong together").click()
    page.wait_for_url("**/rides")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
