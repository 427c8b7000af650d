"""Notebooks: what their first cells need, and how they are executed without a person.

`python -m headlife.show.notebook FROM TO` executes every notebook of a folder.
"""
