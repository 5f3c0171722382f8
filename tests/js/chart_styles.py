"""The styles of the chart library, as a file that a strict policy allows.

plotly.js writes its rules into an inline style sheet of its own, which the policy refuses, unless a
link of its name and class is there already: then it leaves them out. So the same rules stand in
`plotly-static.css`. `python -m tests.js.chart_styles` reads them from the library and writes them.
"""

import sys
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests import browser as chromium
from tests import tree

VENDORED = tree.TOP / "static" / "vendor" / "plotly-basic-4.1.1"
LIBRARY = VENDORED / "plotly-basic.min.js"
STYLES = VENDORED / "plotly-static.css"
RULES = """() => [...document.getElementById("plotly.js-style-global").sheet.cssRules]
    .map((rule) => rule.cssText).join("\\n") + "\\n" """


def rules(page: Page) -> str:
    """Read the library's own rules on an empty page without a policy."""
    page.goto("about:blank")
    page.add_script_tag(path=LIBRARY)
    found: str = page.evaluate(RULES)
    return found


def main() -> int:
    """Write the file anew."""
    with sync_playwright() as playwright:
        path = chromium.found(playwright.chromium.executable_path)
        browser = playwright.chromium.launch(executable_path=path, args=chromium.arguments())
        Path(STYLES).write_text(rules(browser.new_page()))
        browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
