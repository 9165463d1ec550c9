"""The page for an address that leads nowhere, as people see it."""

from playwright.sync_api import Page, expect


def test_leads_back_to_the_start(page: Page):
    answer = page.goto("/nowhere")

    assert answer.status == 404
    expect(page.get_by_role("heading")).to_have_text("Not Found")
    expect(page.get_by_role("link", name="Start page")).to_have_attribute("href", "/")
