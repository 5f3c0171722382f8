"""The chart library as it lies here: the release that was meant, its styles, its size."""

import gzip
import hashlib

from plotly.offline import get_plotlyjs_version

from .chart_styles import LIBRARY, STYLES, VENDORED, rules

# Of plotly.js-basic-dist-min 4.1.1, as the maker publishes it.
SHA256 = "99784e3abfb07b142a15e521a439e6d9addceadb3f79553fd24c72774f0649ba"


def test_the_bundle_is_the_makers_own_file_with_its_licence():
    assert hashlib.sha256(LIBRARY.read_bytes()).hexdigest() == SHA256
    assert "MIT License" in (VENDORED / "LICENSE").read_text()


def test_the_bundle_is_of_the_release_whose_validators_check_the_figures():
    assert VENDORED.name == f"plotly-basic-{get_plotlyjs_version()}"
    assert f"(basic - minified) v{get_plotlyjs_version()}" in LIBRARY.read_text()[:200]


def test_the_styles_are_the_librarys_own_rules(page):
    # To renew them: python -m tests.js.chart_styles
    assert rules(page) == STYLES.read_text()


def test_the_button_says_the_size_that_is_sent():
    sent = len(gzip.compress(LIBRARY.read_bytes(), 9))

    assert round(sent / 1_000_000, 1) == 0.4
