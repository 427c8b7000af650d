"""Executing notebooks: parameters are checked, mistakes come out as sentences, nothing lingers."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_notebook, new_output

from headlife.errors import HeadlifeError, RecordsError
from headlife.show.markup import Html
from headlife.show.notebook import runner as notebook
from headlife.show.notebook.page import notebook_html
from headlife.show.page import Page, Section

NOTEBOOKS = sorted((Path(__file__).parents[2] / "notebooks").glob("*.ipynb"))
PARAMETERS = "from headlife.show.notebook.cells import parameters\ngiven = parameters(a=1, b=None)"


def write(tmp_path, *sources):
    path = tmp_path / "small.ipynb"
    nbformat.write(new_notebook(cells=[new_code_cell(source) for source in sources]), path)
    return path


def printed(executed):
    return "".join(
        one.get("text", "") for cell in executed.cells for one in cell.get("outputs", [])
    )


def test_values_in_force_are_printed_and_the_file_is_left_alone(tmp_path):
    path = write(tmp_path, PARAMETERS, "print(given.a)")
    before = path.read_bytes()
    hostile = '/it\'s/a "path"\\'
    text = printed(notebook.execute(path, {"a": hostile}))
    assert f"a = {hostile!r}" in text and "b = None" in text and f"\n{hostile}\n" in text
    assert path.read_bytes() == before


def test_unknown_parameter_is_refused_before_anything_runs(tmp_path):
    path = write(tmp_path, PARAMETERS, f"open({str(tmp_path / 'ran')!r}, 'w')")
    with pytest.raises(HeadlifeError, match=r"no parameter 'recrods'; it has a, b"):
        notebook.execute(path, {"recrods": 1})
    assert not (tmp_path / "ran").exists()
    with pytest.raises(HeadlifeError, match="takes no parameters"):
        notebook.execute(write(tmp_path, "1"), {"a": 1})


def test_mistakes_come_out_as_their_sentence_and_faults_as_faults(tmp_path):
    sentence = "log.csv, row 3: 'x' is no date."
    mistake = f"from headlife.errors import RecordsError\nraise RecordsError({sentence!r})"
    with pytest.raises(RecordsError, match="^log.csv, row 3: 'x' is no date.$"):
        notebook.execute(write(tmp_path, mistake))
    with pytest.raises(notebook.NotebookFailure, match="ZeroDivisionError"):
        notebook.execute(write(tmp_path, "1 / 0"))


def test_slow_cell_and_dead_kernel_are_named(tmp_path):
    with pytest.raises(notebook.NotebookFailure, match="took longer than 1 s"):
        notebook.execute(write(tmp_path, "import time; time.sleep(60)"), timeout=1)
    with pytest.raises(notebook.NotebookFailure, match="ended by itself"):
        notebook.execute(write(tmp_path, "import os; os._exit(1)"))


def test_progress_is_one_line_that_is_rewritten(tmp_path):
    path = write(
        tmp_path,
        "from headlife.show.notebook.cells import progress_to_reader\n"
        "tell = progress_to_reader()\ntell('fitting', 1, 3)\ntell('fitting', 2, 3)",
    )
    (shown,) = notebook.execute(path).cells[0].outputs
    assert shown["data"]["text/plain"] == "fitting (2 of 3)"


def test_no_file_of_any_folder_of_the_users_is_imported_by_the_kernel(tmp_path, monkeypatch):
    spoiled = "raise SystemExit('a file of the folder was run')"
    for name in ("pandas", "numpy", "matplotlib", "headlife", "json"):
        (tmp_path / f"{name}.py").write_text(spoiled)
    monkeypatch.chdir(tmp_path)
    path = write(tmp_path, "import os, sys, pandas, headlife; print(os.listdir(), sys.path)")
    text = printed(notebook.execute(path))
    assert text.startswith("[] [")
    assert str(tmp_path) not in text and "''" not in text


def test_files_named_beside_the_notebook_are_still_found(tmp_path):
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "log.csv").write_text("found")
    source = PARAMETERS.replace("a=1", "a='data/log.csv'")
    path = write(tmp_path, source, "print(open(given.a).read())")
    assert printed(notebook.execute(path)).endswith("found\n")


def test_no_kernel_stays_behind(tmp_path):
    path = write(tmp_path, "import os; print(os.getpid())", "1 / 0")
    with pytest.raises(notebook.NotebookFailure):
        notebook.execute(path)
    executed = notebook.execute(write(tmp_path, "import os; print(os.getpid())"))
    assert not Path(f"/proc/{printed(executed).strip()}").exists()


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebooks_are_stored_without_outputs_and_have_one_parameter_cell(path):
    stored = nbformat.read(path, as_version=4)
    code = [cell for cell in stored.cells if cell.cell_type == "code"]
    assert all(not cell.outputs and cell.execution_count is None for cell in code)
    assert sum("parameters(" in cell.source for cell in code) == 1


def test_a_folder_of_notebooks_is_executed_into_another(tmp_path):
    (tmp_path / "from").mkdir()
    write(tmp_path / "from", "print('done')")
    command = [sys.executable, "-m", "headlife.show.notebook", "from", "to"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert "done" in printed(nbformat.read(tmp_path / "to" / "small.ipynb", as_version=4))


def test_a_live_section_runs_its_own_script_on_the_page_of_a_notebook_and_no_other():
    section = Section("What if?", "", (("sliders", lambda: Html("<p id='moved'></p>")),))
    page = Page("Page", Html(""), {"what_if": section}, Html(""), "let moved = 1;")
    shown = new_output("display_data", page.live("what_if")._repr_mimebundle_())
    text = notebook_html(new_notebook(cells=[new_code_cell("live", outputs=[shown])]), "Copy")
    # echo -n "let moved = 1;" | openssl dgst -sha256 -binary | base64
    named = "script-src 'sha256-tt6qwyVbl7qgobZp0DSNq5iiP6YW+qIbKhkG4kH8rr8='"
    assert text[: text.index("<title>")].count(named) == 1
