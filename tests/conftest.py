"""Fixtures shared by all tests, and the one rule on missing tools.

A test that drives a program outside Python says so with ``@pytest.mark.needs("chromium")``.  Where
the program is missing the test is skipped by name; with ``SPRAYOUT_EVERY_TOOL=1`` (CI) it fails.
"""

import os
import shutil
import sys
from pathlib import Path

import pytest

# Programs that came with the test extra stand beside the Python that runs the tests.
os.environ["PATH"] = os.pathsep.join(
    (str(Path(sys.executable).parent), os.environ.get("PATH", ""), "/usr/sbin")
)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--board", metavar="PORT", help="run the system tests against a real board")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        for mark in item.iter_markers("needs"):
            for tool in mark.args:
                if shutil.which(tool) is None:
                    item.add_marker(_missing(tool))


def _missing(tool: str) -> pytest.MarkDecorator:
    reason = f"{tool} is not installed"
    if os.environ.get("SPRAYOUT_EVERY_TOOL"):
        return pytest.mark.usefixtures("every_tool_is_there")
    return pytest.mark.skip(reason=reason)


@pytest.fixture
def every_tool_is_there(request: pytest.FixtureRequest) -> None:
    """Fail a test that would have been skipped for a missing program."""
    missing = [
        tool
        for mark in request.node.iter_markers("needs")
        for tool in mark.args
        if shutil.which(tool) is None
    ]
    pytest.fail(f"not installed: {', '.join(missing)}")


def pytest_sessionfinish(session: pytest.Session) -> None:
    """With every tool asked for, a skipped test is a failed run, whatever it was skipped for."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if os.environ.get("SPRAYOUT_EVERY_TOOL") and reporter and reporter.stats.get("skipped"):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
