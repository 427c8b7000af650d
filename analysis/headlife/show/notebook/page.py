"""How does an executed notebook become a page of the reference?

From a notebook with outputs; gives one HTML text without code and without a link to outside. The
pages that commands write come from the same sections without a notebook (`headlife.show.page`).
"""

from __future__ import annotations

import re
from typing import Any, Final

from headlife.show.page import page_text

# What the policy of a framed section names: the script of its sliders.
_FRAMED: Final = re.compile(r"script-src \S*?(sha256-[\w+/=]+)")


def notebook_html(notebook: Any, title: str) -> str:
    """Turn an executed notebook into one page.

    Parameters
    ----------
    notebook : NotebookNode
        With outputs.
    title : str
        Shown in the browser's tab; escaped here.

    Returns
    -------
    str
        The HTML.
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
    kept.cells = [_without_warnings(cell) for cell in notebook.cells]
    body, _ = exporter.from_notebook_node(kept)
    return page_text(title, body, framed=sorted(set(_FRAMED.findall(body))))


def _without_warnings(cell: Any) -> Any:
    """Drop what a library wrote to the error stream: it names paths and is not for this reader."""
    if cell.cell_type != "code":
        return cell
    kept = cell.copy()
    kept.outputs = [one for one in cell.outputs if one.get("name") != "stderr"]
    return kept
