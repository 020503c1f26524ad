"""Turn what pydantic found wrong with a file into plain lines that name the field and the mend."""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from trackday.weekend.showing import one_line, shortened, shown_value

Location = Sequence[int | str]

_UNQUOTED = " without quotes"

_KINDS = {
    "string_type": "text in quotes",
    "float_type": f"a number{_UNQUOTED}",
    "int_type": f"a whole number{_UNQUOTED}",
    "int_from_float": "a whole number",
    "finite_number": "a number",
    "bool_type": "true or false, without quotes",
    "tuple_type": "a list in [ ]",
    "model_type": "a table of fields",
}
"""What a field needs, by the type of pydantic's error."""


def plain_lines(
    error: ValidationError, *, data: Any, model: type[BaseModel], quotes: bool = True
) -> Iterator[str]:
    """Give one "field: what is wrong; how to mend it" for each fault.

    `data` is what was read and `model` what it was read as: they give the names of list entries
    and of fields. List entries are counted from one. `quotes` tells that the file's form puts text
    in quotes, so that a number has to stand without.
    """
    for fault in error.errors(include_url=False):
        location = fault["loc"]
        place = place_text(location, data)
        text = _wording(fault, _fields_beside(model, location), quotes=quotes)
        yield one_line(f"{place}: {text}" if place else text)


def place_text(location: Location, data: Any) -> str:
    """Write a location as "tires[2] (Rain).kind"."""
    place = ""
    for part in location:
        data = _inside(data, part)
        if isinstance(part, int):
            name = data.get("name") if isinstance(data, Mapping) else None
            place += f"[{part + 1}]"
            place += f" ({shortened(name)})" if isinstance(name, str) and name.strip() else ""
        else:
            place += f".{shortened(part)}" if place else shortened(part)
    return place


def _inside(data: Any, part: int | str) -> Any:
    """Step into read data; None where there is nothing."""
    if isinstance(data, Mapping):
        return data.get(part)
    if isinstance(data, list) and isinstance(part, int) and part < len(data):
        return data[part]
    return None


def _fields_beside(model: type[BaseModel], location: Location) -> dict[str, FieldInfo]:
    """Give the fields, by their file keys, of the table that a location's last part lies in."""
    fields = _fields(model)
    for part in location[:-1]:
        if isinstance(part, str):
            inner = _model_in(fields[part].annotation) if part in fields else None
            fields = _fields(inner) if inner is not None else {}
    return fields


def _fields(model: type[BaseModel]) -> dict[str, FieldInfo]:
    """Give a model's fields by their keys in a file."""
    return {info.alias or name: info for name, info in model.model_fields.items()}


def _model_in(annotation: Any) -> type[BaseModel] | None:
    """Find the model in an annotation such as `tuple[TireSet, ...] | None`."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for arg in get_args(annotation) if (found := _model_in(arg))), None)


def _wording(fault: ErrorDetails, fields: Mapping[str, FieldInfo], *, quotes: bool) -> str:
    """Say what is wrong and how to mend it."""
    kind, key = fault["type"], fault["loc"][-1] if fault["loc"] else ""
    given, context = shown_value(fault["input"]), fault.get("ctx", {})
    match kind:
        case "value_error":
            return str(context["error"])
        case "missing":
            return _missing(key, fields)
        case "extra_forbidden":
            return _unknown(str(key), fields)
        case "literal_error":
            return f"{given} is not known; write {context['expected']}"
        case "greater_than" | "greater_than_equal" | "less_than" | "less_than_equal":
            return f"{given} is out of range; write a number {_limit(context)}"
        case "too_short":
            return f"has too few entries; write at least {context['min_length']}"
        case "too_long":
            return f"has too many entries; write {context['max_length']} at most"
        case _ if kind in _KINDS:
            needed = _KINDS[kind] if quotes else _KINDS[kind].removesuffix(_UNQUOTED)
            return f"{given} will not do; write {needed}{_example(key, fields)}"
    return f"{given} will not do; mend the value{_example(key, fields)}"


def _limit(context: Mapping[str, Any]) -> str:
    """Word the limit that a number went beyond."""
    words = {"gt": "above", "ge": "of at least", "lt": "below", "le": "of at most"}
    name = next(name for name in words if name in context)
    return f"{words[name]} {context[name]:g}"


def _missing(key: int | str, fields: Mapping[str, FieldInfo]) -> str:
    """Say that a field, or a value of a pair, is missing."""
    info = fields.get(str(key))
    if info is None or not info.examples:
        return "is missing; add it"
    return f"is missing; add it, for example {key} = {_as_toml(info.examples[0])}"


def _unknown(key: str, fields: Mapping[str, FieldInfo]) -> str:
    """Say that a field is not known and which may be meant."""
    near = difflib.get_close_matches(key.casefold(), fields, n=1)
    if near:
        return f'is not a known field; did you mean "{near[0]}"?'
    return f"is not a known field; remove it, or write one of {', '.join(fields)}"


def _example(key: int | str, fields: Mapping[str, FieldInfo]) -> str:
    """Give a field's example, where it has one, as the end of a sentence."""
    info = fields.get(str(key))
    return f", for example {_as_toml(info.examples[0])}" if info and info.examples else ""


def _as_toml(value: Any) -> str:
    """Write an example as it stands in a file."""
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {_as_toml(each)}" for key, each in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_as_toml(each) for each in value) + "]"
    return json.dumps(value, ensure_ascii=False)
