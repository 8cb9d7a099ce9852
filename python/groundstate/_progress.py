"""How a long computation tells how far it is."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from groundstate._core import MissingExtraError

#: Is told how many of how many are done; False asks for a stop.
Teller = Callable[[int, int], bool | None]


@contextmanager
def telling(progress: bool | Teller | None, what: str = "runs") -> Iterator[Teller | None]:
    """The callable that ``progress`` stands for: a bar of tqdm for True, nothing for None and False."""
    if callable(progress):
        yield progress
    elif not progress:
        yield None
    else:
        bar = _bar(what)

        def tell(done: int, total: int) -> None:
            bar.total = total
            bar.update(done - bar.n)

        try:
            yield tell
        finally:
            bar.close()


def _bar(what: str) -> Any:
    import importlib

    try:
        tqdm = importlib.import_module("tqdm.auto").tqdm
    except ImportError as missing:
        message = (
            "progress=True needs tqdm: pip install 'groundstate[progress]', or give progress a callable (done, total)"
        )
        raise MissingExtraError(message) from missing
    return tqdm(unit=f" {what}", smoothing=0)
