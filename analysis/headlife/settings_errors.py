"""Say in one sentence each what is wrong in a settings file, and what to write instead.

Answers from what pydantic found: the file, the table and key, the value, and the advice that the
field's own description gives. It never decides what is allowed; the models of `shop` do.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from pydantic import BaseModel, ValidationError

from headlife.alike import closest, nearest

_MOST_SAID: Final = 40  # sentences; who has more mistakes mends these first
_MOST_LOOKED_AT: Final = 1_000  # mistakes


def sentences(problem: ValidationError, root: type[BaseModel], file: str) -> list[str]:
    """Give one sentence per problem found; a misspelt key is not also called missing.

    Parameters
    ----------
    problem : ValidationError
        What pydantic found.
    root : type[BaseModel]
        The model of the whole file.
    file : str
        Name of the file.

    Returns
    -------
    list of str
        The sentences, in the order of the file.
    """
    errors = problem.errors(include_url=False)
    misspelt = set()
    for error in errors[:_MOST_LOOKED_AT]:
        if error["type"] == "extra_forbidden":
            where = [str(part) for part in error["loc"]]
            model, _, _ = _follow(where, root)
            misspelt.add((*where[:-1], closest(where[-1], list(_fields(model)))))
    kept = [
        error
        for error in errors
        if not (error["type"] == "missing" and tuple(map(str, error["loc"])) in misspelt)
    ]
    said = list(dict.fromkeys(_sentence(error, root, file) for error in kept[:_MOST_LOOKED_AT]))
    more = len(kept) - _MOST_SAID
    return said if more <= 0 else [*said[:_MOST_SAID], f"{file}: {more:,} more such lines."]


def _sentence(error: Mapping[str, Any], root: type[BaseModel], file: str) -> str:
    """Turn one finding of pydantic into one sentence a technician can act on."""
    where = [str(part) for part in error["loc"]]
    if error["type"] == "value_error" and isinstance(error["input"], Mapping):
        return f"{file}: {_upper(str(error['ctx']['error']))}."
    # pydantic adds steps such as "float" or "literal[...]" for unions: keep what the file has.
    model, field, keys = _follow(where, root)
    table, key = _place(keys[:-1]), keys[-1]
    if error["type"] == "extra_forbidden":
        known = list(_fields(model))
        return (
            f"{file}: {table} does not know {_shown(key)}{nearest(key, known)}; "
            f"it knows {', '.join(known)}."
        )
    advice = _advice(field)
    if error["type"] == "missing":
        what = "table" if _is_table(field) else "key"
        return f"{file}: {table} lacks the {what} '{key}'; {advice}."
    extra = f" ({error['ctx']['error']})" if error["type"] == "value_error" else ""
    return f"{file}: {table} {key} = {_shown(error['input'])}{extra} cannot be used; {advice}."


def _follow(where: list[str], root: type[BaseModel]) -> tuple[type[BaseModel], Any, list[str]]:
    """Walk from the root along an error's place: the last model, its field and the keys used."""
    model = root
    field: Any = None
    keys: list[str] = []
    steps = iter(where)
    for step in steps:
        keys.append(step)
        field = _fields(model).get(step)
        if field is None:
            break
        inner = _part_within(field.annotation)
        if inner is None:
            if _is_map(field.annotation):
                keys.extend(part for part in [next(steps, "")] if part)
            break
        if _is_map(field.annotation):
            key = next(steps, "")
            if not key:
                break
            keys.append(key)
        model = inner
    return model, field, keys


def _fields(model: type[BaseModel]) -> dict[str, Any]:
    """Give the fields of a table by the key that people write."""
    return {field.alias or name: field for name, field in model.model_fields.items()}


def _part_within(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for inner in getattr(annotation, "__args__", ()):
        found = _part_within(inner)
        if found is not None:
            return found
    return None


def _is_map(annotation: Any) -> bool:
    return getattr(annotation, "__origin__", None) is dict


def _is_table(field: Any) -> bool:
    return field is not None and (
        _part_within(field.annotation) is not None or _is_map(field.annotation)
    )


def _advice(field: Any) -> str:
    if field is None:
        return "correct it"
    fallback = "add that table" if _is_table(field) else "correct it"
    return str(field.description or _described(field.annotation) or fallback)


def _described(annotation: Any) -> str | None:
    """Find the first advice written inside a type such as `Annotated[...] | None`."""
    for part in getattr(annotation, "__metadata__", ()):
        if getattr(part, "description", None):
            return str(part.description)
    for inner in getattr(annotation, "__args__", ()):
        found = _described(inner)
        if found:
            return found
    return None


def _place(tables: list[str]) -> str:
    if not tables:
        return "the top of the file"
    return "[" + ".".join(t if t.isidentifier() else f'"{t}"' for t in tables) + "]"


def _shown(value: Any) -> str:
    text = f"'{value}'" if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]
