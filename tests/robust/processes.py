"""Real processes, forked from one that has loaded the program already: they start in no time."""

import multiprocessing
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from multiprocessing.connection import Connection
from typing import Any

from tests.robust.worker import READY

_PATIENCE = 60
_context = multiprocessing.get_context("forkserver")
_context.set_forkserver_preload(["tests.robust.worker"])


class Worker:
    """One other process, and what it told."""

    def __init__(self, work: Callable[..., None], url: str, name: str, *more: Any) -> None:
        self.name = name
        self._pipe, theirs = _context.Pipe()
        arguments = (url, name, theirs, *more)
        self._process = _context.Process(target=work, args=arguments, daemon=True)
        self._process.start()
        theirs.close()

    def wait_until_ready(self) -> None:
        if (told := self.hear()) != READY:
            raise AssertionError(f"{self.name} is not ready: {told!r}")

    def hear(self, patience: float = _PATIENCE) -> Any:
        """The next thing it tells."""
        if not self._pipe.poll(patience):
            raise AssertionError(f"{self.name} says nothing")
        return self._pipe.recv()

    def tell(self, word: str) -> None:
        self._pipe.send(word)

    def kill(self) -> list[Any]:
        """End it by SIGKILL; returns what it had told."""
        if not self._process.is_alive():
            raise AssertionError(f"{self.name} ended before it was killed")
        self._process.kill()
        self._process.join(_PATIENCE)
        return list(_last_words(self._pipe))

    def close(self) -> None:
        if self._process.is_alive():
            self._process.kill()
        self._process.join(_PATIENCE)
        self._process.close()
        self._pipe.close()


def _last_words(pipe: Connection) -> Iterator[Any]:
    try:
        while pipe.poll():
            yield pipe.recv()
    except (EOFError, OSError):  # the end, perhaps in the middle of a word
        return


@contextmanager
def working(work: Callable[..., None], url: str, name: str, *more: Any) -> Iterator[Worker]:
    """A process at work, ended at the end of the block."""
    worker = Worker(work, url, name, *more)
    try:
        yield worker
    finally:
        worker.close()
