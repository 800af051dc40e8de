"""WCAG 2.2 AA by axe, on every page, phone and desktop, daylight and bay."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
SIZES = [(360, 800, "light"), (1440, 900, "light"), (1440, 900, "dark")]
CASES = [
    *((address, size) for address in ("/", "/size", "/which-wire") for size in SIZES),
    *(("/immobilizer?key=plastic_head", size) for size in SIZES),
    ("/job/plain", SIZES[0]),
    ("/job/plain", SIZES[2]),
    ("/job/manual", SIZES[0]),
    ("/dangers", SIZES[0]),
    ("/dangers", SIZES[2]),
    ("/job/manual", SIZES[2]),
    ("/job/nowhere", SIZES[1]),
    ("/job/nowhere", SIZES[2]),
    ("/job/plain?line=command%20start%20%E2%86%92%20engine%20runs", SIZES[1]),
    ("/size?load_A=nothing", SIZES[1]),
]


def axe(page):
    found = Axe().run(page, options=RULES).response["violations"]
    return [(v["id"], v["nodes"][0]["target"], v["nodes"][0]["html"][:200]) for v in found]


@pytest.mark.parametrize(
    ("address", "size"), CASES, ids=lambda v: v if isinstance(v, str) else f"{v[0]}-{v[2]}"
)
def test_axe_finds_nothing(opened, address, size):
    width, height, scheme = size
    page = opened(address, width=width, height=height, scheme=scheme)
    if "/job/" in address and "nowhere" not in address:
        expect(page.locator("#stamp")).not_to_be_empty()
        page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    if "nowhere" in address or "nothing" in address:
        opened.said.clear()  # the browser itself reports a page that is not there
    assert axe(page) == []


def test_axe_bites(opened):
    page = opened("/")
    page.evaluate("document.querySelector('h1').style.color = '#ddd'")
    assert "color-contrast" in [rule for rule, _, _ in axe(page)]
