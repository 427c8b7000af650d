"""How does an executed notebook become one page that opens anywhere?

From an executed notebook; writes one HTML file with no code, no script and no link to outside.
The file appears whole or not at all: written beside, then renamed.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any, Final

from headlife.errors import HeadlifeError
from headlife.show.files import put_in_place
from headlife.show.markup import escape, stylesheet

OFF_PAGE: Final = "off-page"  # tag of a notebook cell that is not part of the page

# Nothing may be fetched: the browser itself refuses what a mistake of ours might let through.
_POLICY: Final = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"


def page_html(notebook: Any, title: str) -> str:
    """Turn an executed notebook into one page.

    Parameters
    ----------
    notebook : NotebookNode
        With outputs. Cells tagged `off-page` are left out.
    title : str
        Shown in the browser's tab; escaped here.
    """
    from nbconvert.exporters.html import HTMLExporter

    exporter = HTMLExporter(  # type: ignore[no-untyped-call]
        template_name="basic",
        exclude_input=True,
        exclude_input_prompt=True,
        exclude_output_prompt=True,
        exclude_anchor_links=True,
        preprocessors=[],
    )
    kept = notebook.copy()
    # What sliders held is for a notebook; on a page it would be data that nothing reads.
    kept.metadata = {name: one for name, one in notebook.metadata.items() if name != "widgets"}
    kept.cells = [_without_warnings(cell) for cell in notebook.cells if _on_page(cell)]
    body, _ = exporter.from_notebook_node(kept)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>\n{stylesheet()}</style>\n</head>\n"
        f'<body class="page">\n<main>\n{body}\n</main>\n</body>\n</html>\n'
    )


def _on_page(cell: Any) -> bool:
    return OFF_PAGE not in cell.metadata.get("tags", ())


def _without_warnings(cell: Any) -> Any:
    """Drop what a library wrote to the error stream: it names paths and is not for this reader."""
    if cell.cell_type != "code":
        return cell
    kept = cell.copy()
    kept.outputs = [one for one in cell.outputs if one.get("name") != "stderr"]
    return kept


def write_whole(path: Path, text: str) -> None:
    """Write a file so that it appears whole or not at all.

    Raises
    ------
    HeadlifeError
        The file cannot be written there.
    """
    check_writable(path)
    try:
        put_in_place(path, text.encode("utf-8"), 0o666 & ~_umask())
    except OSError as problem:
        raise HeadlifeError(
            f"The page cannot be written to {path}: {problem.strerror}."
        ) from problem


def check_writable(path: Path) -> None:
    """Refuse a place where no page can be written, before any work is done.

    Raises
    ------
    HeadlifeError
        The folder is missing, or the path is a folder.
    """
    if path.is_dir():
        raise HeadlifeError(
            f"{path} is a folder; give the page a file name, for example page.html."
        )
    if not path.parent.is_dir():
        raise HeadlifeError(f"The folder {path.parent} does not exist; make it, or choose another.")
    if not os.access(path.parent, os.W_OK):
        raise HeadlifeError(f"The folder {path.parent} cannot be written to; choose another.")


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
