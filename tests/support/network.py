"""Tests talk to this machine only: any other address raises `NetworkBlocked`."""

import ipaddress
import socket
from collections.abc import Callable
from typing import Any

LOCAL_NAMES = frozenset({"localhost", ""})


class NetworkBlocked(RuntimeError):
    """A test tried to reach another machine."""


def is_local(host: object) -> bool:
    """Whether an address stays on this machine. A name other than localhost does not."""
    if host is None:  # getaddrinfo's word for "here"
        return True
    name = host.decode() if isinstance(host, bytes) else str(host)
    if name in LOCAL_NAMES:
        return True
    try:
        return ipaddress.ip_address(name.partition("%")[0]).is_loopback
    except ValueError:
        return False


def _refuse_unless_local(host: object) -> None:
    if not is_local(host):
        raise NetworkBlocked(
            f"A test tried to reach {host!r}. Tests may only use loopback addresses and Unix "
            "sockets: give the code a fake, or a server started by the test."
        )


def block() -> Callable[[], None]:
    """Put the guard in place; the function returned takes it away."""
    patch = _Patch()
    for name in ("connect", "connect_ex", "sendto"):
        patch.replace(socket.socket, name, _guarded_method(getattr(socket.socket, name)))
    patch.replace(socket, "getaddrinfo", _guarded_lookup(socket.getaddrinfo))
    return patch.undo


def _guarded_method(original: Callable[..., Any]) -> Callable[..., Any]:
    def guarded(self: socket.socket, *args: Any) -> Any:
        # sendto takes its flags before the address; the address is last in all three.
        if self.family in (socket.AF_INET, socket.AF_INET6) and args:
            _refuse_unless_local(args[-1][0])
        return original(self, *args)

    return guarded


def _guarded_lookup(original: Callable[..., Any]) -> Callable[..., Any]:
    def guarded(host: object, *args: Any, **kwargs: Any) -> Any:
        _refuse_unless_local(host)
        return original(host, *args, **kwargs)

    return guarded


class _Patch:
    def __init__(self) -> None:
        self._originals: list[tuple[object, str, object]] = []

    def replace(self, owner: object, name: str, value: object) -> None:
        self._originals.append((owner, name, getattr(owner, name)))
        setattr(owner, name, value)

    def undo(self) -> None:
        for owner, name, original in reversed(self._originals):
            setattr(owner, name, original)
