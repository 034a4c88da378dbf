"""Every notebook runs from top to bottom."""

from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

NOTEBOOKS = sorted((Path(__file__).parents[1] / "notebooks").glob("*.ipynb"))


@pytest.mark.filterwarnings("ignore")  # the kernel's own machinery warns about event loops
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_notebook_runs(path, tmp_path):
    notebook = nbformat.read(path, as_version=4)
    NotebookClient(notebook, timeout=300, resources={"metadata": {"path": str(path.parent)}}).execute()


def test_there_are_notebooks():
    assert NOTEBOOKS
