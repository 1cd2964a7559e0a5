"""Fixtures shared by all tests, and the one rule on missing tools.

A test that drives a program outside Python says so with ``@pytest.mark.needs("chromium")``.  Where
the program is missing the test is skipped by name; with ``SPRAYOUT_EVERY_TOOL=1`` (CI) it fails.
"""

import os
import shutil
import sys
from pathlib import Path

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--board", metavar="PORT", help="run the system tests against a real board")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        for mark in item.iter_markers("needs"):
            for tool in mark.args:
                if not is_there(tool):
                    item.add_marker(_missing(tool))


def is_there(tool: str) -> bool:
    """Whether a program is on the path, or beside the Python that runs the tests."""
    return shutil.which(tool) is not None or (Path(sys.executable).parent / tool).exists()


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
        if not is_there(tool)
    ]
    pytest.fail(f"not installed: {', '.join(missing)}")
