"""The report's page as a person meets it: opened from a folder, in a real browser."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from tests.factories import COMPARISONS, HOSTILE_NAME, comparison, pair
from wattwitness.model.comparison import Comparison
from wattwitness.render.html import ASSETS, write_html
from wattwitness.sections.publication import of_comparison

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page

ROOT = Path(__file__).resolve().parents[2]
AXE = ROOT / "build" / "axe" / "axe.min.js"
PHONE, DESK = (360, 780), (1280, 900)
Open = Callable[..., "Page"]

pytestmark = pytest.mark.skipif(
    not (ASSETS / "vendor" / "uPlot.iife.min.js").is_file(), reason="the chart library is not built in: run make assets"
)


@pytest.fixture
def open_report(browser_context: BrowserContext, tmp_path: Path) -> Iterator[Open]:
    """Write a comparison's page and open it; complain at the end of anything it asked of a network or a console."""
    complaints: list[str] = []
    pages: list[Page] = []

    def opened(made: Comparison, size: tuple[int, int] = DESK, scheme: str = "light") -> Page:
        path = tmp_path / f"report-{len(pages)}.html"
        write_html(of_comparison(made), path)
        page = browser_context.new_page()
        pages.append(page)
        page.on("console", lambda message: complaints.append(f"console: {message.text}"))
        page.on("pageerror", lambda error: complaints.append(f"error: {error}"))
        page.on("request", lambda request: asked(request.url, path))
        page.on("dialog", lambda _: complaints.append("a dialog"))
        page.set_viewport_size({"width": size[0], "height": size[1]})
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        page.goto(path.as_uri())
        return page

    def asked(url: str, path: Path) -> None:
        if url != path.as_uri() and not url.startswith(("data:", "blob:")):
            complaints.append(f"request: {url}")

    yield opened
    for page in pages:
        page.close()
    assert complaints == []


def views(page: Page) -> list[list[float]]:
    """The range of time each panel shows, read off its axis by the library itself."""
    found: list[list[float]] = page.evaluate("wattwitnessPanels.map((plot) => [plot.scales.x.min, plot.scales.x.max])")
    return found


def inked(page: Page) -> list[int]:
    """How many different colours each canvas holds: an empty one has one."""
    found: list[int] = page.evaluate(
        """[...document.querySelectorAll('.plot canvas')].map((canvas) => {
            const copy = new OffscreenCanvas(canvas.width, canvas.height)
                .getContext('2d', { willReadFrequently: true });
            copy.drawImage(canvas, 0, 0);
            const pixels = copy.getImageData(0, 0, canvas.width, canvas.height).data;
            const seen = new Set();
            for (let k = 0; k < pixels.length; k += 4) {
                if (pixels[k + 3] > 200) { seen.add((pixels[k] << 16) | (pixels[k + 1] << 8) | pixels[k + 2]); }
            }
            return seen.size;
        })"""
    )
    return found


def place(page: Page, panel: int, share: float) -> tuple[float, float]:
    """A point in a panel at a share of its width, on the screen."""
    over = page.locator(".plot .u-over").nth(panel)
    over.scroll_into_view_if_needed()
    box = over.bounding_box()
    assert box is not None
    return box["x"] + box["width"] * share, box["y"] + box["height"] / 2


def drag(page: Page, panel: int, start: float, end: float) -> None:
    """Drag across a panel between two shares of its width."""
    page.mouse.move(*place(page, panel, start))
    page.mouse.down()
    page.mouse.move(*place(page, panel, (start + end) / 2))
    page.mouse.move(*place(page, panel, end))
    page.mouse.up()


def over(page: Page, panel: int, share: float) -> None:
    """Move the mouse over a panel."""
    page.mouse.move(*place(page, panel, share))


class TestPanels:
    def test_are_drawn(self, open_report: Open) -> None:
        page = open_report(comparison())
        assert len(inked(page)) == 4
        assert all(colours > 5 for colours in inked(page))

    def test_zoom_together_and_back(self, open_report: Open) -> None:
        page = open_report(comparison())
        assert views(page) == [[0, 3599]] * 4
        drag(page, 2, 0.25, 0.5)
        zoomed = views(page)
        assert zoomed == [zoomed[0]] * 4
        assert zoomed[0] == pytest.approx([900, 1800], abs=25)
        page.locator(".plot .u-over").nth(1).dblclick()
        assert views(page) == [[0, 3599]] * 4

    def test_zoom_by_button_and_key(self, open_report: Open) -> None:
        page = open_report(comparison())
        page.get_by_role("button", name="Closer").click()
        assert views(page)[3] == pytest.approx([900, 2700], abs=2)
        page.get_by_role("button", name="Later").click()
        assert views(page)[0][0] > 1500
        page.locator(".plots").focus()
        page.keyboard.press("0")
        assert views(page)[0] == [0, 3599]
        page.keyboard.press("+")
        assert views(page)[1] == pytest.approx([720, 2880], abs=2)
        page.keyboard.press("Shift+ArrowRight")
        assert views(page)[1][0] == pytest.approx(720 + 432, abs=2)
        page.get_by_role("button", name="Whole ride").click()
        assert views(page)[2] == [0, 3599]

    def test_zoom_by_wheel_only_with_the_key_held(self, open_report: Open) -> None:
        page = open_report(comparison())
        over(page, 0, 0.5)
        page.mouse.wheel(0, -200)
        page.wait_for_timeout(50)
        assert views(page)[0] == [0, 3599], "an ordinary turn of the wheel scrolls the page"
        over(page, 0, 0.5)
        page.keyboard.down("Control")
        page.mouse.wheel(0, -200)
        page.keyboard.up("Control")
        page.wait_for_function("wattwitnessPanels[3].scales.x.max < 3500")
        low, high = views(page)[3]
        assert (low + high) / 2 == pytest.approx(1800, abs=60)

    def test_zoom_and_read_by_touch(self, open_report: Open) -> None:
        page = open_report(comparison(), PHONE)
        script = """([shares, kind]) => {
            const over = wattwitnessPanels[0].over, box = over.getBoundingClientRect();
            const touches = shares.map((share, k) => new Touch({ identifier: k, target: over,
                clientX: box.left + box.width * share, clientY: box.top + 20 }));
            over.dispatchEvent(new TouchEvent(kind, { touches, bubbles: true, cancelable: true }));
        }"""
        page.evaluate(script, [[0.5], "touchstart"])
        page.evaluate(script, [[0.25], "touchmove"])
        assert page.locator(".now").inner_text() == "0:15:00"
        page.evaluate(script, [[0.4, 0.6], "touchstart"])
        page.evaluate(script, [[0.3, 0.7], "touchmove"])
        low, high = views(page)[2]
        assert high - low == pytest.approx(1800, abs=20)

    def test_never_leave_the_ride(self, open_report: Open) -> None:
        page = open_report(comparison())
        page.locator(".plots").focus()
        for key in ("-", "-", "Shift+ArrowLeft", "Shift+ArrowRight"):
            page.keyboard.press(key)
            assert views(page)[0] == [0, 3599]
        for _ in range(30):
            page.keyboard.press("+")
        low, high = views(page)[0]
        assert high - low == pytest.approx(10)

    def test_read_to_the_second_in_every_panel(self, open_report: Open) -> None:
        made = comparison()
        page = open_report(made)
        over(page, 3, 0.5)
        hours, minutes, seconds = page.locator(".now").inner_text().split(":")
        at = int(hours) * 3600 + int(minutes) * 60 + int(seconds)
        assert at == pytest.approx(1800, abs=10)
        page.select_option("select", "1")
        over(page, 3, 0.6)
        hours, minutes, seconds = page.locator(".now").inner_text().split(":")
        at = int(hours) * 3600 + int(minutes) * 60 + int(seconds)
        values = page.locator(".value").all_inner_texts()
        series = made.pairs[0].series
        assert values[0] == f"{series.reference_w[at]:.0f}\u00a0W"
        assert values[2] == f"{series.unit_w[at]:.0f}\u00a0W"
        assert values[3] == f"{series.difference_pct[at]:+.1f}\u00a0%".replace("-", "−")

    def test_leave_no_stray_cursor_behind(self, open_report: Open) -> None:
        page = open_report(comparison())
        over(page, 0, 0.4)
        shown = page.locator(".u-cursor-x:not(.u-off)")
        assert shown.count() == 4
        page.mouse.move(5, 5)
        lefts = page.evaluate("wattwitnessPanels.map((plot) => plot.cursor.left)")
        assert all(left < 0 for left in lefts)
        assert page.locator(".now").inner_text() == "–"
        assert page.locator(".u-cursor-y:not(.u-off)").count() == 0

    def test_tell_a_reader_what_a_key_reads(self, open_report: Open) -> None:
        page = open_report(comparison())
        page.locator(".plots").focus()
        page.keyboard.press("ArrowRight")
        spoken = page.locator(".spoken").inner_text()
        assert "Laboratory pedals" in spoken
        assert "W" in spoken

    def test_draw_gaps_as_gaps(self, open_report: Open) -> None:
        page = open_report(comparison())
        data: Any = page.evaluate("wattwitnessPanels[0].data.map((values) => [...values.slice(895, 965)])")
        assert data[1].count(None) == 60
        assert None not in data[3]

    def test_lead_from_a_table_to_a_place(self, open_report: Open) -> None:
        page = open_report(comparison())
        page.get_by_role("button", name="Show 0:20:00 to 0:30:00 in the panels").click()
        low, high = views(page)[0]
        assert low < 1200
        assert high > 1800
        assert high - low < 1000

    def test_of_several_units_are_linked(self, open_report: Open) -> None:
        page = open_report(COMPARISONS["several_units"]())
        drag(page, 0, 0.3, 0.6)
        found = views(page)
        assert len(found) == 12
        assert found == [found[0]] * 12
        assert found[0] != [0, 3599]

    def test_follow_a_change_of_colour_scheme_and_size(self, open_report: Open) -> None:
        page = open_report(comparison())
        page.emulate_media(color_scheme="dark")
        page.set_viewport_size({"width": 700, "height": 800})
        page.wait_for_function("wattwitnessPanels[0].width < 680")
        assert all(colours > 5 for colours in inked(page))
        line: str = page.evaluate("wattwitnessPanels[0].series[1].stroke(wattwitnessPanels[0], 1)")
        assert line == page.evaluate(
            "getComputedStyle(document.documentElement).getPropertyValue('--reference').trim()"
        )


@pytest.mark.parametrize("name", list(COMPARISONS))
def test_every_kind_of_comparison_opens_and_fits_a_phone(open_report: Open, name: str) -> None:
    page = open_report(COMPARISONS[name](), PHONE)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE[0]
    assert page.locator("h1").inner_text()
    assert page.locator("#answer .headline").first.is_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_an_accessibility_audit_finds_nothing_serious(open_report: Open, scheme: str, size: tuple[int, int]) -> None:
    if not AXE.is_file():
        pytest.skip("the accessibility checker is not there: run make assets")
    page = open_report(COMPARISONS["several_units"](), size, scheme)
    page.evaluate("document.querySelectorAll('details').forEach((details) => { details.open = true; })")
    page.evaluate(AXE.read_text("utf-8"))
    found: Any = page.evaluate(
        """axe.run(document, { resultTypes: ['violations'] }).then((result) => result.violations.map((item) =>
            [item.impact, item.id, item.nodes.slice(0, 3).map((node) => `${node.target} ${node.failureSummary}`)]))"""
    )
    assert [item for item in found if item[0] in ("serious", "critical", "moderate")] == []


def test_hostile_names_stay_words(open_report: Open) -> None:
    page = open_report(COMPARISONS["hostile_names"]())
    assert "broken" not in page.title().replace(HOSTILE_NAME[:40], "").replace("document.title='broken'", "")
    assert page.locator("img").count() == 0
    assert page.evaluate("document.querySelectorAll('script').length") == 3
    assert page.locator(".plots").count() == 1
    assert all(colours > 5 for colours in inked(page))


def test_a_three_hour_ride_stays_small_and_opens(open_report: Open, tmp_path: Path) -> None:
    page = open_report(comparison(pair(seconds=3 * 3600)))
    assert (tmp_path / "report-0.html").stat().st_size < 1_500_000
    assert views(page)[0] == [0, 3 * 3600 - 1]
    assert all(colours > 5 for colours in inked(page))


def test_values_without_a_number_are_drawn_as_nothing(open_report: Open) -> None:
    made = pair()
    empty = np.full(made.series.time_s.size, np.nan)
    page = open_report(comparison(replace(made, series=replace(made.series, difference_pct=empty))))
    assert len(inked(page)) == 3


def test_prints_as_drawings_instead_of_panels(open_report: Open) -> None:
    page = open_report(comparison(), scheme="dark")
    page.emulate_media(media="print")
    assert not page.locator(".plots").is_visible()
    assert page.locator(".paper svg.chart").is_visible()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert not page.locator("nav").is_visible()
    assert page.pdf()[:5] == b"%PDF-"


def test_without_scripts_the_drawings_stand_in(
    open_report: Open, browser_context: BrowserContext, tmp_path: Path
) -> None:
    path = tmp_path / "plain.html"
    write_html(of_comparison(comparison()), path)
    path.write_text(path.read_text("utf-8").replace("script-src ", "script-src 'none' ;x-unused "), "utf-8")
    page = browser_context.new_page()
    page.goto(path.as_uri())
    assert page.locator(".paper svg.chart").is_visible()
    assert not page.locator(".plots").is_visible()
    page.close()


def test_the_policy_stops_a_script_that_was_added(browser_context: BrowserContext, tmp_path: Path) -> None:
    path = tmp_path / "altered.html"
    write_html(of_comparison(comparison()), path)
    added = "<script>document.title = 'altered'</script></body>"
    path.write_text(path.read_text("utf-8").replace("</body>", added), "utf-8")
    page = browser_context.new_page()
    page.goto(path.as_uri())
    assert page.title() == "Studio bike B against Laboratory pedals"
    page.close()


def test_the_keyboard_reaches_everything_and_shows_where_it_is(open_report: Open) -> None:
    page = open_report(comparison())
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the answer"
    assert page.evaluate("document.activeElement.getBoundingClientRect().left") >= 0
    headings: list[int] = page.evaluate("[...document.querySelectorAll('h1,h2,h3')].map((h) => Number(h.tagName[1]))")
    assert headings[0] == 1
    assert headings.count(1) == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(headings))
