"""A TCP connection that never waits.  The name of the other end should be an address: looking up
a name may take seconds in which the board does nothing else."""

import errno
import select
import socket

_LATER = (errno.EAGAIN, errno.EINPROGRESS)


class Tcp:
    """``read`` gives None once the connection is gone."""

    def __init__(self, host, port):
        address = socket.getaddrinfo(host, port, 0, socket.SOCK_STREAM)[0][-1]
        self.socket = socket.socket()
        self.socket.setblocking(False)
        self._room = select.poll()
        self._room.register(self.socket, select.POLLOUT)
        try:
            self.socket.connect(address)
        except OSError as failure:
            if failure.errno not in _LATER:
                self.close()
                raise

    def writable(self):
        return any(flags & select.POLLOUT for _, flags in self._room.poll(0))

    def write(self, octets):
        try:
            return self.socket.send(octets) or 0
        except OSError as failure:
            if failure.errno in _LATER:
                return 0
            raise

    def read(self):
        try:
            octets = self.socket.recv(256)
        except OSError as failure:
            if failure.errno in _LATER:
                return b""
            return None
        return octets or None

    def close(self):
        self.socket.close()
