"""Write nested dicts as TOML text; the standard library only reads it."""

from __future__ import annotations

import json
import re
from typing import Any

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def write_toml(data: dict[str, Any]) -> str:
    """Write a tree of dicts, lists, text, numbers and truth values as TOML.

    Parameters
    ----------
    data : dict
        The tree.

    Returns
    -------
    str
        TOML text that reads back as the same tree.
    """
    return "\n".join(_table(data, ())).strip() + "\n"


def _table(table: dict[str, Any], path: tuple[str, ...]) -> list[str]:
    lines: list[str] = []
    later: list[str] = []
    for name, value in table.items():
        inner = (*path, _key(name))
        if isinstance(value, dict):
            later += ["", f"[{'.'.join(inner)}]", *_table(value, inner)]
        elif isinstance(value, list | tuple) and value and all(isinstance(item, dict) for item in value):
            for item in value:
                later += ["", f"[[{'.'.join(inner)}]]", *_table(item, inner)]
        else:
            lines.append(f"{_key(name)} = {_scalar(value)}")
    return lines + later


def _key(name: str) -> str:
    return name if _BARE.fullmatch(name) else _text(name)


def _scalar(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, list | tuple):
        return f"[{', '.join(_scalar(item) for item in value)}]"
    return repr(value)


def _text(value: str) -> str:
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
