"""What tests of table-top tests share: a file of them."""

from __future__ import annotations

from pathlib import Path

import pytest
from table_top_tests import filled_in


@pytest.fixture
def tests_file(tmp_path: Path) -> Path:
    path = tmp_path / "grey.toml"
    path.write_text(filled_in(), encoding="utf-8")
    return path
