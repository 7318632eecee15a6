"""What all tests share: where the checkout is, and `--record`."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import settings

ROOT = Path(__file__).resolve().parent.parent

# A busy machine may be slow for a moment; that is no failure of the code.
settings.register_profile("calm", deadline=None, print_blob=True)
settings.load_profile("calm")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--record",
        action="store_true",
        help="write what the program says now into fixtures/*.json and the README's examples",
    )


@pytest.fixture
def record(request: pytest.FixtureRequest) -> bool:
    """True when expectations are to be written instead of compared."""
    return bool(request.config.getoption("--record"))


@pytest.fixture
def root() -> Path:
    """The top folder of the checkout."""
    return ROOT
