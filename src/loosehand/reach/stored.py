"""A reach as bytes, and back again, equal: what is JSON as JSON, what is an array as it is.

The bytes are a zip of numpy arrays; one of them holds the rest as JSON. Every field of the reach
is kept by its name and type, so that a new field needs nothing here.
"""

import dataclasses
import io
import json
import types
import typing
import zipfile
from collections.abc import Mapping
from datetime import date
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import BadTable
from loosehand.reach.reach import Reach

__all__ = ["reach_from_bytes", "reach_to_bytes"]

_PLAIN = "plain"


def reach_to_bytes(reach: Reach) -> bytes:
    """Bytes of a reach."""
    arrays: dict[str, NDArray[Any]] = {}
    plain = json.dumps(_taken_apart(reach, "", arrays)).encode()
    out = io.BytesIO()
    np.savez(out, allow_pickle=False, **arrays, **{_PLAIN: np.frombuffer(plain, np.uint8)})
    return out.getvalue()


def reach_from_bytes(data: bytes) -> Reach:
    """Return the reach of some bytes.

    Raises
    ------
    BadTable   if they are not those of a reach as this version knows it
    """
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as found:
            arrays = {name: found[name] for name in found.files}
        plain = json.loads(arrays.pop(_PLAIN).tobytes())
        reach = _put_together(Reach, plain, arrays)
    except (ValueError, KeyError, TypeError, OSError, EOFError, zipfile.BadZipFile) as error:
        raise BadTable(f"the stored reach cannot be read: {error}") from error
    assert isinstance(reach, Reach)
    return reach


def _taken_apart(found: Any, name: str, arrays: dict[str, NDArray[Any]]) -> Any:
    """Return what JSON can hold of a value; put its arrays among the others under their names."""
    if isinstance(found, np.ndarray):
        arrays[name] = found
        return name
    if dataclasses.is_dataclass(found):
        return {
            field.name: _taken_apart(getattr(found, field.name), f"{name}.{field.name}", arrays)
            for field in dataclasses.fields(found)
        }
    if isinstance(found, tuple):
        return [_taken_apart(each, f"{name}.{place}", arrays) for place, each in enumerate(found)]
    if isinstance(found, date):
        return found.isoformat()
    if found is None or isinstance(found, str | bool | int | float):
        return found
    raise TypeError(f"{name} is {type(found).__name__}, which cannot be stored")


def _put_together(kind: Any, found: Any, arrays: Mapping[str, NDArray[Any]]) -> Any:
    """Build a value of a type from what JSON held of it."""
    origin = typing.get_origin(kind)
    if origin in (typing.Union, types.UnionType):
        (some,) = (each for each in typing.get_args(kind) if each is not types.NoneType)
        return None if found is None else _put_together(some, found, arrays)
    if origin is tuple:
        each_kind, _ = typing.get_args(kind)
        return tuple(_put_together(each_kind, each, arrays) for each in found)
    if origin is np.ndarray:
        return arrays[found]
    if isinstance(kind, type) and dataclasses.is_dataclass(kind):
        kinds = _field_kinds(kind)
        return kind(**{name: _put_together(kinds[name], found[name], arrays) for name in kinds})
    return date.fromisoformat(found) if kind is date else found


@lru_cache
def _field_kinds(kind: type) -> dict[str, Any]:
    """Types of the fields of a dataclass, by name."""
    hints = typing.get_type_hints(kind)
    return {field.name: hints[field.name] for field in dataclasses.fields(kind)}
