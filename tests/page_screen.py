"""What every page test does at the screen: go to a place, press a button."""

from typing import Any

from sprayout.commands.benchmarks.page_bench import PageBench

FAST = "colour_interval_s = 0.5\nclimate_interval_s = 0.5\n"
WAIT_MS = 30_000
TABLET = {"width": 820, "height": 1180}
PAINTS = ("ice-van white", "deep-berth blue")
LIVE = "document.getElementById('connection').textContent === 'Live'"


def go(page: Any, bench: PageBench, place: str) -> None:
    """Go to a place and wait until all of it is there and live."""
    page.goto(f"{bench.address}#{place}")
    page.wait_for_function(LIVE)
    page.locator(f"[data-place='{place.partition('/')[0]}']").wait_for(state="visible")
    page.wait_for_function("document.body.dataset.ready === 'all'")


def press(page: Any, name: str, within: str = "body", **options: Any) -> None:
    """Press the first button of that very name."""
    button = page.locator(within).get_by_role("button", name=name, exact=True).first
    button.click(**options)


def unfold(page: Any, summary: str, within: str = "main") -> None:
    """Open the first fold whose line holds these words."""
    page.locator(within).locator("summary", has_text=summary).first.click()


def said(page: Any, selector: str, words: str) -> None:
    """Wait until something there holds these words."""
    page.locator(selector, has_text=words).first.wait_for()
