"""The whole job in a browser, as the tutorial tells it: from an empty bench to a published report."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.e2e.pictures import FOLDER, picture
from tests.web.serving import Server
from wattwitness.bench.catalogue import new_bench
from wattwitness.bench.lone_recordings import LoneRecording
from wattwitness.bench.originals import keep
from wattwitness.model.ride_list import ListedRide, ListedStudy
from wattwitness.simulate.four_bikes import FOUR_BIKES
from wattwitness.workflows.bench import add_rides as add_rides_to
from wattwitness.workflows.lone_recordings import keep_lone_recordings
from wattwitness.workflows.simulate import write_scenario

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page

ROOT = Path(__file__).parents[2]
AXE = ROOT / "build" / "axe" / "axe.min.js"
PATIENCE_MS = 60_000
OLD, NEW = "1.04", "1.05"


@pytest.fixture(scope="module")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three rides of studio bike D before its new firmware and three after, and a file that is broken."""
    folder = tmp_path_factory.mktemp("tour") / "winter"
    bike = next(bike for bike in FOUR_BIKES if bike.unit.endswith("D"))
    old = [spec for spec, version in zip(bike.scenario.rides, bike.firmware, strict=True) if version == OLD][:3]
    new = [spec for spec, version in zip(bike.scenario.rides, bike.firmware, strict=True) if version == NEW][:3]
    write_scenario(replace(bike.scenario, rides=(*old, *new)), seed=1, folder=folder)
    (folder / "truth.json").unlink()
    (folder / "broken.fit").write_bytes(b"\x0e\x10.FIT cut short")
    return folder


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    started = Server(tmp_path_factory.mktemp("laboratory") / "bench")
    yield started
    started.end()


@pytest.fixture(scope="module")
def ridden(recordings: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A bench with two rides on it and a recording by itself, for the tests that begin there."""
    bench = tmp_path_factory.mktemp("ridden") / "bench"
    new_bench(bench)
    rides = [
        ListedRide(
            name=f"d-ride0{number}",
            reference=str(recordings / f"d-ride0{number}-pedals.fit"),
            unit=str(recordings / f"d-ride0{number}-bike.fit"),
        )
        for number in (1, 2)
    ]
    add_rides_to(bench, ListedStudy(rides=tuple(rides)), "studio bike D")
    lone = keep(bench, recordings / "d-ride03-bike.fit")
    keep_lone_recordings(bench, [LoneRecording(name="a recording by itself", original=lone)])
    started = Server(bench)
    yield started
    started.end()


@pytest.fixture
def page(browser_context: BrowserContext) -> Iterator[Page]:
    opened = browser_context.new_page()
    opened.set_viewport_size({"width": 1280, "height": 860})
    opened.emulate_media(color_scheme="light", reduced_motion="reduce")
    faults: list[str] = []
    elsewhere: list[str] = []
    opened.on("pageerror", lambda error: faults.append(str(error)))
    opened.on("request", lambda asked: elsewhere.append(asked.url) if "127.0.0.1" not in asked.url else None)
    opened.set_default_timeout(PATIENCE_MS)
    yield opened
    opened.close(run_before_unload=False)
    assert faults == []
    assert [url for url in elsewhere if not url.startswith(("data:", "blob:"))] == []


def accessible(page: Page) -> None:
    """No serious finding of the automated audit."""
    if not AXE.is_file():
        pytest.skip("the audit’s script is not built: make assets")
    page.evaluate(AXE.read_text("utf-8"))
    found = page.evaluate(
        """axe.run(document, { resultTypes: ['violations'] }).then((result) => result.violations
            .filter((item) => ['serious', 'critical'].includes(item.impact))
            .map((item) => item.id + ': ' + item.nodes.map((node) => node.html).join(' | ').slice(0, 300)))"""
    )
    assert found == []


def test_from_an_empty_bench_to_a_published_report(server: Server, page: Page, recordings: Path) -> None:
    page.goto(server.address)
    page.get_by_role("heading", name="There is nothing on the bench yet").wait_for()
    accessible(page)
    picture(page, "1-empty")
    add_rides(page, recordings)
    ask_and_judge(page)
    look_at_a_ride(page)
    take_back(server, page)
    publish(server, page)


def add_rides(page: Page, recordings: Path) -> None:
    """Drop a folder with a broken file in it, and keep the rides that are proposed."""
    page.get_by_role("link", name="Add rides").last.click()
    page.wait_for_url("**/add")
    accessible(page)
    page.set_input_files("#files", sorted(recordings.iterdir()))
    page.locator("#list > [data-state=read]").nth(11).wait_for()
    assert page.locator("#list > [data-state=wrong]").count() == 1
    accessible(page)
    picture(page, "2-files")
    page.get_by_role("button", name="See which belong together").click()
    page.wait_for_url("**/rides")
    assert page.locator(".pair-list .pair").count() == 6
    accessible(page)
    picture(page, "3-rides")
    page.get_by_role("button", name="Keep these rides").click()
    page.wait_for_url("**/units/1")


def ask_and_judge(page: Page) -> None:
    """Compare, then ask for a claim and for before against after; what that changes is said first."""
    page.get_by_role("button", name="Compare now").click()
    page.locator("#verdict").wait_for()
    page.locator("[name=claim]").select_option("own")
    page.locator("[name=limit_pct]").fill("2.5")
    page.locator("[name=reference_uncertainty_pct]").fill("0.5")
    page.locator("[name=before]").select_option(OLD)
    page.locator("[name=after]").select_option(NEW)
    page.locator("#would", has_text="compared anew").wait_for()
    with page.expect_navigation():
        page.get_by_role("button", name="Keep what is asked").click()
    page.get_by_role("button", name="Compare now").click()
    page.locator("#verdict", has_text="the bias went from").wait_for()
    accessible(page)
    page.evaluate("scrollTo(0, 0)")
    picture(page, "4-verdict")


def look_at_a_ride(page: Page) -> None:
    """Go to an episode, and leave it out with a reason: the answer changes and says so."""
    page.locator(".ride-list a").first.click()
    page.locator("#ride[data-ready=yes]").wait_for()
    accessible(page)
    page.locator("#places button", has_text="put down to the unit").first.click()
    page.locator("[data-part=stretch-says]", has_text="0:").wait_for()
    page.evaluate("scrollTo(0, 0)")
    picture(page, "5-ride")
    biased = page.locator("#answer .headline").inner_text()
    page.locator("[data-part=reason]").fill("the bike fell away: shown apart")
    with page.expect_navigation():
        page.locator("[data-part=leave-out] button").click()
    page.locator("#told", has_text="To be compared anew: 1 of 6").wait_for()
    page.get_by_role("heading", name="Left out by you").wait_for()
    page.locator("#ride[data-ready=yes]").wait_for()
    assert page.locator("#answer .headline").inner_text() != biased
    assert "Left out by the tester" in page.locator("#whole-answer").inner_text()


def take_back(server: Server, page: Page) -> None:
    page.goto(server.address)
    page.get_by_role("button", name="Take the last change back").click()
    page.locator("s", has_text="was left out").wait_for()
    accessible(page)


def publish(server: Server, page: Page) -> None:
    """Everything handed on is made, opened and saved; the page that opens has no origin of ours."""
    page.goto(f"{server.address}units/1/publish")
    page.locator("[name=notes]").fill("Ridden in the laboratory's cellar at 19 degrees.")
    page.get_by_role("button", name="Make it").click()
    page.get_by_role("link", name="report.html").wait_for()
    accessible(page)
    picture(page, "6-published")
    with page.expect_download() as saved:
        page.get_by_role("link", name="report.pdf").click()
    assert Path(saved.value.path()).read_bytes().startswith(b"%PDF")
    with page.expect_popup() as opened:
        page.get_by_role("link", name="report.html").click()
    report = opened.value
    report.locator("#verdict .headline").wait_for()
    assert "cellar" in report.locator("body").inner_text()
    assert report.evaluate("self.origin") == "null"
    report.close()


def test_the_ride_page_by_keyboard(ridden: Server, page: Page) -> None:
    """The panels are read, zoomed and a stretch is chosen without a mouse; what is read is spoken."""
    page.goto(f"{ridden.address}rides/1")
    page.locator("#ride[data-ready=yes]").wait_for()
    page.locator("[data-part=panels]").focus()
    for key in ("ArrowRight", "ArrowRight"):
        page.keyboard.press(key)
    spoken = page.locator("[data-part=spoken]").inner_text()
    assert "reference" in spoken
    assert "W" in spoken
    page.keyboard.press("[")
    for _ in range(8):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("]")
    page.locator("[data-part=stretch-says]", has_text="From 0:").wait_for()
    page.keyboard.press("+")
    page.keyboard.press("0")
    page.locator("[data-part=from]").fill("0:02:00")
    page.locator("[data-part=to]").fill("0:06:00")
    page.get_by_role("button", name="How far off is it here?").press("Enter")
    page.locator("[data-part=stretch-says]", has_text="From 0:02:00 to 0:06:00").wait_for()


def test_the_clock_by_hand_shows_its_effect_at_once(ridden: Server, page: Page) -> None:
    page.goto(f"{ridden.address}rides/2")
    page.locator("#ride[data-ready=yes]").wait_for()
    page.locator("#hand-clock summary").click()
    field = page.locator("[name=offset_s]")
    found = float(field.input_value())
    field.fill(str(found + 40))
    page.locator("form[data-clock] output", has_text="would read").wait_for()
    with page.expect_navigation():
        field.press("Enter")
    page.locator("#ride[data-ready=yes]").wait_for()
    assert "given by hand" in page.locator("#whole-answer").inner_text()
    page.locator("#hand-clock summary").click()
    with page.expect_navigation():
        page.get_by_role("button", name="Let the program find them").click()
    page.locator("#ride[data-ready=yes]").wait_for()
    page.locator("#hand-clock summary").click()
    assert float(page.locator("[name=offset_s]").input_value()) == pytest.approx(found)


@pytest.mark.parametrize(
    "path",
    [
        "",
        "units/1",
        "rides/1",
        "alone/1",
        "record",
        "meters",
        "weighing",
        "spot",
        "plan",
        "publish",
        "units/1/publish",
        "alone/1/publish",
    ],
)
def test_every_page_on_a_phone_in_the_dark(ridden: Server, page: Page, path: str) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    page.emulate_media(color_scheme="dark")
    page.goto(f"{ridden.address}{path}")
    if path.startswith("rides"):
        page.locator("#ride[data-ready=yes]").wait_for()
    if path == "alone/1":
        page.locator("#alone .headline").first.wait_for()
    accessible(page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_the_tutorial_shows_the_pictures_that_are_taken_here() -> None:
    shown = (ROOT / "docs" / "tutorial-bench.md").read_text("utf-8")
    assert [name.name for name in sorted(FOLDER.iterdir()) if f"images/bench/{name.name}" not in shown] == []
