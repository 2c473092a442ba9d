"""A relay between two laptops, for tests: counts what passes, and breaks off where it is told to."""

from __future__ import annotations

import contextlib
import socket
import threading

from herdsync.exchange.addresses import Address

HERE = "127.0.0.1"


class Relay:
    """Passes one connection on, at most ``most`` bytes both ways together."""

    def __init__(self, to: Address, most: int = 1 << 40) -> None:
        self.passed = 0
        self._to, self._most = to, most
        self._lock = threading.Lock()
        self._socket = socket.create_server((HERE, 0))
        self.address = Address(HERE, self._socket.getsockname()[1])
        threading.Thread(target=self._relay, daemon=True).start()

    def _relay(self) -> None:
        near, _ = self._socket.accept()
        far = socket.create_connection((self._to.host, self._to.port))
        both = [
            threading.Thread(target=self._pass, args=ends, daemon=True)
            for ends in ((near, far), (far, near))
        ]
        for one in both:
            one.start()
        for one in both:
            one.join()
        near.close()
        far.close()
        self._socket.close()

    def _pass(self, source: socket.socket, sink: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while data := source.recv(4_096):
                with self._lock:
                    data = data[: self._most - self.passed]
                    self.passed += len(data)
                sink.sendall(data)
                if self.passed >= self._most:
                    for one in (source, sink):
                        one.shutdown(socket.SHUT_RDWR)
                    break
            sink.shutdown(socket.SHUT_WR)
