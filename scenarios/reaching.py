"""Reaching into an answer: which values a path means, and whether what is expected holds.

A path is steps parted by dots: a name, a number, ``*`` for each, ``[name=value]`` for those that
hold so, ``first`` for the first of what was reached. The empty path is the whole answer.
Must not know where an answer comes from.
"""

from __future__ import annotations

from typing import Any

from scenarios.story import Expect


def reach(answer: Any, path: str) -> list[Any]:
    """The values a path means; none where it leads nowhere."""
    found = [answer]
    for step in path.split(".") if path else []:
        found = found[:1] if step == "first" else [v for one in found for v in _stepped(one, step)]
    return found


def reach_one(answer: Any, path: str) -> Any:
    """The one value a path means. Raises LookupError for none or several."""
    found = reach(answer, path)
    if len(found) != 1:
        raise LookupError(f"'{path}' means {len(found)} values, not one")
    return found[0]


def unmet(answer: Any, expect: Expect) -> str:
    """Empty where it holds; otherwise what was expected and what was found."""
    found = reach(answer, expect.at)
    where = f"'{expect.at}'" if expect.at else "the answer"
    if expect.count is not None:
        there = found[0] if len(found) == 1 and isinstance(found[0], list) else found
        if len(there) != expect.count:
            return f"{where} counts {len(there)}, not {expect.count}"
    elif expect.holds is not None:
        if not any(expect.holds in str(value) for value in found):
            return f"{where} does not hold {expect.holds!r}: {_short(found)}"
    elif found != [expect.equals]:
        return f"{where} is {_short(found)}, not {expect.equals!r}"
    return ""


def _stepped(value: Any, step: str) -> list[Any]:
    if step == "*":
        return list(value.values()) if isinstance(value, dict) else _items(value)
    if step.startswith("["):
        name, _, told = step.strip("[]").partition("=")
        return [
            one for one in _items(value) if isinstance(one, dict) and str(one.get(name)) == told
        ]
    if isinstance(value, dict):
        return [value[step]] if step in value else []
    items = _items(value)
    return [items[int(step)]] if step.isdigit() and int(step) < len(items) else []


def _items(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _short(value: Any) -> str:
    told = repr(value)
    return told if len(told) <= 200 else told[:199] + "…"
