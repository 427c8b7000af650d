"""Settings of the HTML reference: `build.py` stages the pages and runs Sphinx with these."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path
from typing import Any

import headlife

sys.path.insert(0, str(Path(__file__).parent))
docstrings = importlib.import_module("docstrings")

project = "headlife"
author = "the headlife developers"
copyright = author  # noqa: A001
version = release = headlife.__version__

extensions = ["sphinx.ext.autodoc", "numpydoc", "myst_parser"]
root_doc = "index"
default_role = "literal"  # docstrings write names between single backticks
add_module_names = False
python_use_unqualified_type_names = True

autodoc_typehints = "none"  # types stand in the Parameters of each docstring
autodoc_member_order = "bysource"
autodoc_default_options = {"members": True, "undoc-members": False}
toc_object_entries = False  # the list at the side names pages, not every function
numpydoc_show_class_members = False
numpydoc_class_members_toctree = False
myst_heading_anchors = 2
html_extra_path = ["extra"]

html_theme = "alabaster"  # comes with Sphinx: nothing to fetch, nothing to add
html_title = f"headlife {release}"
html_static_path = ["look"]
html_css_files = ["reference.css"]
html_show_sourcelink = False
html_show_sphinx = False
html_copy_source = False
html_theme_options = {
    "description": "Reliability review for extrusion printers",
    "page_width": "1180px",
    "sidebar_width": "260px",
    "show_powered_by": False,
    "fixed_sidebar": False,
    "font_family": "system-ui, sans-serif",
    "head_font_family": "system-ui, sans-serif",
}
html_sidebars = {"**": ["about.html", "searchbox.html", "navigation.html"]}


def name_what_is_left_out(app: Any, what: str, name: str, thing: Any, *_: Any) -> None:
    """Make every fault of a public docstring a warning, and so an error of the build."""
    from sphinx.util import logging

    if what in {"function", "method", "class"} and name.startswith("headlife."):
        own = getattr(thing, "__module__", "")
        # A name of the front door is looked at where it is defined.
        if name.rpartition(".")[0].startswith(own):
            for fault in docstrings.faults(name, thing):
                logging.getLogger(__name__).warning(fault)


def setup(app: Any) -> None:
    """Check docstrings as they are read."""
    app.connect("autodoc-process-docstring", name_what_is_left_out)
