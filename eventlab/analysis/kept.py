"""What several analyses ask of the same ground is worked out once."""

import weakref
from collections.abc import Callable
from functools import wraps
from typing import Any, ParamSpec, TypeVar

import polars as pl

from eventlab.context import Context
from eventlab.ground import Ground

Asked = ParamSpec("Asked")
Answer = TypeVar("Answer")

_Answers = list[tuple[tuple[Any, ...], Any]]
_kept: dict[int, tuple["weakref.ref[Ground]", dict[Callable[..., Any], _Answers]]] = {}


def kept(function: Callable[Asked, Answer]) -> Callable[Asked, Answer]:
    """Keep the answers of a function as long as the ground they stand on lives.

    Parameters
    ----------
    function : callable
        One of its arguments is the ground. Frames and contexts are the same where they are the
        same object, all else where it is equal.

    Returns
    -------
    callable
        The same function; nobody may change what it returns.
    """

    @wraps(function)
    def answered(*given: Asked.args, **named: Asked.kwargs) -> Answer:
        ground = next(one for one in (*given, *named.values()) if isinstance(one, Ground))
        # The ground itself is not held, or it would never go.
        asked = tuple(
            None if one is ground else one
            for one in (*given, *(x for pair in sorted(named.items()) for x in pair))
        )
        answers = _of(ground).setdefault(function, [])
        for before, answer in answers:
            if len(before) == len(asked) and all(map(_same, before, asked)):
                return answer  # type: ignore[no-any-return]  # of this very function
        answer = function(*given, **named)
        answers.append((asked, answer))
        return answer

    return answered


def _of(ground: Ground) -> dict[Callable[..., Any], _Answers]:
    number = id(ground)
    known = _kept.get(number)
    if known is None or known[0]() is not ground:
        gone = weakref.ref(ground, lambda _: _kept.pop(number, None))
        known = _kept[number] = (gone, {})
    return known[1]


def _same(one: object, other: object) -> bool:
    if one is other:
        return True
    if isinstance(one, pl.DataFrame | Context) or type(one) is not type(other):
        return False
    return one == other
