"""What every page must hold: no sideways scrolling, WCAG 2.2 AA by axe in light and dark."""

from __future__ import annotations

from typing import Any

from tests.browser.conftest import SIZES

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def sideways(page: Any) -> dict[str, int]:
    """By size, how many pixels the page is wider than the window; empty when it never is."""
    wider = {}
    for name, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        if over > 0:
            wider[name] = over
    return wider


def small_targets(page: Any) -> list[str]:
    """Things to tap that are smaller than 44 px and not part of a line of text."""
    return page.evaluate(  # type: ignore[no-any-return]
        """() => [...document.querySelectorAll("a, button, input:not([type=hidden]), select, summary")]
          .filter((e) => e.checkVisibility({visibilityProperty: true, opacityProperty: false}))
          .filter((e) => !e.closest("p, .skip, label") )
          .map((e) => [e, e.getBoundingClientRect()])
          .filter(([e, r]) => r.width && (r.width < 43.5 || r.height < 43.5))
          .map(([e, r]) => `${e.outerHTML.slice(0, 90)} ${r.width.toFixed()}x${r.height.toFixed()}`)"""
    )


def axe_findings(page: Any) -> list[str]:
    """What axe finds in light and in dark, one line each; empty is good."""
    from axe_playwright_python.sync_playwright import Axe

    found = []
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
        answer = Axe().run(page, options={"runOnly": {"type": "tag", "values": RULES}})
        for rule in answer.response["violations"]:
            for node in rule["nodes"]:
                found.append(
                    f"{scheme} {rule['id']}: {node['target']} {node['failureSummary'][:200]}"
                )
    page.emulate_media(color_scheme="light")
    return found
