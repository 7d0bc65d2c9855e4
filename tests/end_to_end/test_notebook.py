"""The notebook that is shipped, run from its first cell to its last without a screen; it shows the sheet."""

from __future__ import annotations

import base64
import io
import json
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from PIL import Image

from drape.fitting.scene import shipped_folder, shipped_scenes

if TYPE_CHECKING:
    import nbformat

NOTEBOOK = Path(__file__).resolve().parents[2] / "scenes" / "ferry-warden.ipynb"
QUICK, COARSE = 'quality="quick"', "edge_length_cm=6"  # as coarse as may be, so that the test is soon done


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> nbformat.NotebookNode:
    """The notebook after its last cell, run in an empty folder with settings of its own."""
    nbclient = pytest.importorskip("nbclient", reason="the notebook is run with: pip install '.[notebook]'")
    import nbformat

    where = tmp_path_factory.mktemp("notebook")
    notebook = nbformat.read(NOTEBOOK, as_version=4)
    changed = 0
    for cell in notebook.cells:
        if cell.cell_type == "code":
            changed += cell.source.count(QUICK)
            cell.source = cell.source.replace(QUICK, COARSE)
    assert changed == 2
    with pytest.MonkeyPatch.context() as patch:
        for variable in ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR"):
            patch.setenv(variable, str(where / variable.lower()))
        patch.setenv("JUPYTER_PLATFORM_DIRS", "1")
        patch.setenv("PYDEVD_DISABLE_FILE_VALIDATION", "1")
        resources = {"metadata": {"path": str(where)}}
        nbclient.NotebookClient(notebook, timeout=600, kernel_name="python3", resources=resources).execute()
    return notebook


def outputs(notebook: nbformat.NotebookNode) -> list[list[dict]]:
    return [cell.outputs for cell in notebook.cells if cell.cell_type == "code"]


@pytest.mark.long
def test_a_fitting_is_shown_as_its_sheet(run: nbformat.NotebookNode) -> None:
    (shown,) = [one for one in outputs(run)[0] if one["output_type"] == "execute_result"]
    assert shown["data"]["text/plain"].startswith("<Fitting ferry-warden-tailored: settled, ")
    with Image.open(io.BytesIO(base64.b64decode(shown["data"]["image/png"]))) as sheet:
        low, high = sheet.convert("L").getextrema()
        assert sheet.format == "PNG" and sheet.width == 2400 and 1000 < sheet.height < 2400
    assert high - low > 100, "a sheet is not blank"


@pytest.mark.long
def test_the_other_cells_say_what_they_are_to_say(run: nbformat.NotebookNode) -> None:
    _, verdicts, differences, saved = outputs(run)
    assert any(line.startswith("neck: ") for line in verdicts[-1]["text"].splitlines())
    assert "gap_back_cm" in differences[-1]["data"]["text/plain"]
    assert "ferry-warden-tailored.npz" in saved[-1]["data"]["text/plain"]


def test_the_notebook_is_shipped_without_results_and_not_as_a_scene() -> None:
    notebook = json.loads(NOTEBOOK.read_text(encoding="utf-8"))
    code = [cell for cell in notebook["cells"] if cell["cell_type"] == "code"]
    assert 3 <= len(code) <= 4
    assert [(cell["outputs"], cell["execution_count"]) for cell in code] == [([], None)] * len(code)
    assert NOTEBOOK.stem not in shipped_scenes() and "ferry-warden-round" in shipped_scenes()
    assert {path.stem for path in shipped_folder("scene").glob("*.toml")} == set(shipped_scenes())
