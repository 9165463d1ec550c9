"""A logbook kept in a browser: from the bench sheet to the trend, read with the arrow keys, on a phone too."""

from playwright.sync_api import Page, expect

STAGE = "vs=24V&r1=10k&rl=1k"


def add(page: Page, date: str, volts: str):
    """Write an entry."""
    page.locator(".log-add summary").click()
    page.fill("#date", date)
    page.fill("[name='r.r1.closed']", "20V")
    page.fill("[name='r.rl.closed']", volts)
    page.get_by_role("button", name="Keep these readings").click()


def test_readings_of_the_sheet_become_a_logbook_and_its_trend(page: Page):
    page.goto(f"/bench?{STAGE}&r.r1.closed=20V&r.rl.closed=2V")
    page.get_by_role("button", name="Keep these readings").click()
    page.fill("#title", "Pump 3")
    page.fill("#date", "2021-05-01")
    page.get_by_role("button", name="Begin the logbook").click()
    expect(page.locator("#entries tbody tr")).to_have_count(1)
    add(page, "2024-05-01", "1.4V")

    reading = page.locator("#trend .readout dd")
    expect(reading.first).to_have_text("2024-05-01")
    page.locator("#trend svg.graph").focus()
    page.keyboard.press("Home")
    expect(reading.first).to_have_text("2021-05-01")
    expect(reading.nth(1)).to_have_text("100 %")

    page.set_viewport_size({"width": 390, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.goto(page.locator("#link-view").get_attribute("href"))
    expect(page.locator(".log-form")).to_have_count(0)
    expect(page.locator("#entries tbody tr")).to_have_count(2)
