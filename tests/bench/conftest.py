"""What all benchmarks run under."""

from __future__ import annotations

from collections.abc import Iterator

import pytest


@pytest.fixture(autouse=True, scope="session")
def byte_code_is_kept() -> Iterator[None]:
    """Let commands keep their byte code, as they do by default and as an installer left it for the libraries in I.

    With `PYTHONDONTWRITEBYTECODE` set, every run compiles some 30,000 lines of this package anew.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("PYTHONDONTWRITEBYTECODE", raising=False)
        yield
