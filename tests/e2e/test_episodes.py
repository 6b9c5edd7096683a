"""The list of episodes beside the panels as a person meets it: by mouse, by key, on a phone, and without scripts."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.e2e.test_report import AXE, DESK, PHONE, Open, inked, open_report, views
from tests.factories_episodes import every_finding, faulty, hostile_episodes, many_drops, two_units_with_episodes
from tests.factories_evidence import drop
from wattwitness.render.html import ASSETS, write_html
from wattwitness.sections.publication import of_comparison

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page

__all__ = ["open_report"]

pytestmark = pytest.mark.skipif(
    not (ASSETS / "vendor" / "uPlot.iife.min.js").is_file(), reason="the chart library is not built in: run make assets"
)
WHOLE = [0, 3599]


def entry(page: Page, k: int) -> Any:
    """The entry of episode ``k``, from 1."""
    return page.locator(".places li button").nth(k - 1)


def pressed(page: Page) -> list[int]:
    """Which entries are marked as the one shown."""
    found: list[str] = page.locator(".places li button").evaluate_all(
        "buttons => buttons.map((button) => button.getAttribute('aria-pressed'))"
    )
    return [k for k, value in enumerate(found, start=1) if value == "true"]


def in_sight(page: Page, selector: str) -> bool:
    """Whether the top of something comes into the window; the page may glide there."""
    page.wait_for_function(
        """(selector) => { const top = document.querySelector(selector).getBoundingClientRect().top;
            return top >= -70 && top < innerHeight; }""",
        arg=selector,
        timeout=5000,
    )
    return True


def test_a_click_leads_all_panels_to_the_place_and_back(open_report: Open) -> None:
    page = open_report(every_finding())
    assert views(page)[0] == WHOLE
    back = page.get_by_role("button", name="Leave the episode")
    assert back.is_disabled()
    entry(page, 3).click()
    found = views(page)
    assert len(found) == 5
    assert found == [[1375, 1750]] * 5, "the episode with as much of the ride on either side"
    assert pressed(page) == [3]
    entry(page, 5).click()
    assert views(page) == [[2240, 2405]] * 5, "a short one with a minute on either side"
    assert pressed(page) == [5]
    back.click()
    assert views(page) == [WHOLE] * 5
    assert pressed(page) == []


def test_one_of_a_second_and_one_at_the_end_are_shown_whole(open_report: Open) -> None:
    page = open_report(every_finding())
    entry(page, 2).click()
    low, high = views(page)[0]
    assert low < 700
    assert high > 701
    entry(page, 7).click()
    low, high = views(page)[0]
    assert low < 3400
    assert high == 3599


@pytest.mark.parametrize("key", ["Enter", " "])
def test_the_keyboard_goes_there_and_back(open_report: Open, key: str) -> None:
    page = open_report(every_finding())
    page.locator(".plots").focus()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent").startswith("1. Missing stretch")
    assert page.evaluate("document.activeElement.matches(':focus-visible')")
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press(key)
    assert views(page)[0] == [1375, 1750]
    assert page.locator(".spoken").first.inner_text() == "Panels show 0:22:55 to 0:29:10"
    assert page.evaluate("document.activeElement.getAttribute('aria-pressed')") == "true", "the focus stays in the list"
    page.keyboard.press("Escape")
    assert views(page)[0] == WHOLE
    assert page.evaluate("document.activeElement.textContent").startswith("3. Drop")


def test_the_key_for_the_whole_ride_leaves_the_episode(open_report: Open) -> None:
    page = open_report(every_finding())
    entry(page, 4).click()
    page.locator(".plots").focus()
    page.keyboard.press("0")
    assert views(page)[0] == WHOLE
    assert pressed(page) == []


def test_the_table_leads_to_the_panels_too(open_report: Open) -> None:
    page = open_report(faulty(drop()))
    page.locator("#episodes .go button").first.click()
    low, high = views(page)[0]
    assert low < 1500
    assert high > 1625
    assert in_sight(page, "figure.ride")
    assert page.evaluate("document.activeElement.className") == "plots"


def test_of_two_units_each_table_leads_to_its_own_panels(open_report: Open) -> None:
    page = open_report(two_units_with_episodes())
    page.locator("#episodes .go button").nth(1).click()
    assert in_sight(page, "figure[data-chart='panels_2']")
    assert views(page)[0] == views(page)[-1], "all panels move together"
    page.locator("figure[data-chart='panels_1'] .places li button").click()
    assert pressed(page) == [1]
    assert in_sight(page, "figure[data-chart='panels_1']")


def test_on_a_phone_the_list_stands_under_the_panels_and_leads_up_to_them(open_report: Open) -> None:
    page = open_report(every_finding(), PHONE)
    plots, places = (page.locator(name).first.bounding_box() for name in (".plots", ".places"))
    assert plots is not None
    assert places is not None
    assert places["y"] >= plots["y"] + plots["height"]
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE[0]
    entry(page, 3).click()
    assert in_sight(page, "figure.ride")
    assert views(page)[0] == [1375, 1750]


def test_on_a_desk_it_stands_beside_them(open_report: Open) -> None:
    page = open_report(every_finding(), DESK)
    plots, places = (page.locator(name).first.bounding_box() for name in (".plots", ".places"))
    assert plots is not None
    assert places is not None
    assert places["x"] >= plots["x"] + plots["width"]
    assert abs(places["y"] - plots["y"]) < 40


def test_a_long_list_scrolls_and_keeps_its_way_back(open_report: Open) -> None:
    page = open_report(many_drops(), DESK)
    assert page.locator(".places li button").count() == 40
    entry(page, 40).click()
    assert views(page)[0][0] > 3200
    back, places = (
        page.get_by_role("button", name="Leave the episode").bounding_box(),
        page.locator(".places").bounding_box(),
    )
    assert back is not None
    assert places is not None
    assert places["y"] <= back["y"] <= places["y"] + places["height"]


def test_the_shaded_panels_are_drawn(open_report: Open) -> None:
    page = open_report(every_finding())
    assert len(inked(page)) == 5
    assert all(colours > 5 for colours in inked(page))


def test_hostile_words_stay_words(open_report: Open) -> None:
    page = open_report(hostile_episodes())
    assert page.locator("img").count() == 0
    assert page.evaluate("document.querySelectorAll('script').length") == 3
    entry(page, 1).click()
    assert views(page)[0] != WHOLE


def test_without_scripts_there_is_the_plain_table(browser_context: BrowserContext, tmp_path: Path) -> None:
    path = tmp_path / "plain.html"
    write_html(of_comparison(every_finding()), path)
    path.write_text(path.read_text("utf-8").replace("script-src ", "script-src 'none' ;x-unused "), "utf-8")
    page = browser_context.new_page()
    page.goto(path.as_uri())
    table = page.get_by_role("table", name="Every episode, in order of time")
    assert table.is_visible()
    assert table.locator("tbody tr").count() == 7
    assert not page.locator(".places").is_visible()
    assert not page.locator(".go button").first.is_visible(), "no button that could do nothing"
    assert page.locator(".paper svg .hatch").count() > 0
    page.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_an_accessibility_audit_finds_nothing_serious(open_report: Open, scheme: str, size: tuple[int, int]) -> None:
    if not AXE.is_file():
        pytest.skip("the accessibility checker is not there: run make assets")
    page = open_report(every_finding(), size, scheme)
    entry(page, 3).click()
    page.evaluate(AXE.read_text("utf-8"))
    found: Any = page.evaluate(
        """axe.run(document, { resultTypes: ['violations'] }).then((result) => result.violations.map((item) =>
            [item.impact, item.id, item.nodes.slice(0, 3).map((node) => `${node.target} ${node.failureSummary}`)]))"""
    )
    assert [item for item in found if item[0] in ("serious", "critical", "moderate")] == []
