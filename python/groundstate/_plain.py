"""Objects of this library as plain figures, words and lists."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from typing import Any

import numpy as np


def to_dict(thing: Any) -> dict[str, Any]:
    """The public properties of an object by name: plain lists, words and figures; None where a figure is absent.

    An infinite figure, such as degrees of freedom of a known uncertainty, stays infinite.
    """
    # What it was made from, where properties do not tell: the portion of a preparation.
    arguments = thing.__getnewargs_ex__()[1] if hasattr(thing, "__getnewargs_ex__") else {}
    found = {name: plain(getattr(thing, name)) for name in properties(type(thing))}
    return {name: plain(value) for name, value in arguments.items() if name not in found} | found


def properties(of: type) -> list[str]:
    """Names of the public properties of a class, in alphabetical order."""
    found = [name for name in dir(of) if not name.startswith("_")]
    return [name for name in found if type(getattr(of, name)).__name__ in ("getset_descriptor", "property")]


def plain(value: Any) -> Any:
    """A value as JSON could hold it, but for infinities."""
    if value is None or isinstance(value, (str, bool, int)):
        return value
    if isinstance(value, float):
        return None if math.isnan(value) else value
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, np.generic):
        return plain(value.item())
    if isinstance(value, Mapping):
        return {str(name): plain(item) for name, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if callable(getattr(value, "to_dict", None)):
        return value.to_dict()
    return str(value)
