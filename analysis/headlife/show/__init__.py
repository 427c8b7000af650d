"""How people see it: figures, tables, the notebook as a page."""
