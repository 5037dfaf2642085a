"""The folder served on this machine alone, to be tried in its browser."""

from __future__ import annotations

import gzip
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

HOST = "127.0.0.1"
KINDS = {
    "html": "text/html; charset=utf-8",
    "css": "text/css",
    "js": "text/javascript",
    "mjs": "text/javascript",
    "json": "application/json",
    "wasm": "application/wasm",
    "webmanifest": "application/manifest+json",
    "svg": "image/svg+xml",
    "png": "image/png",
    "zip": "application/zip",
    "txt": "text/plain; charset=utf-8",
}
SQUEEZED = ("html", "css", "js", "mjs", "json", "wasm", "svg", "webmanifest")


class _Handler(BaseHTTPRequestHandler):
    """Gives out the files of the server, packed as hosts do, and nothing else."""

    server: _Server
    protocol_version = "HTTP/1.1"

    def do_GET(self) -> None:
        """Answers a request."""
        name = self.path.partition("?")[0].lstrip("/")
        name += "index.html" if name.endswith("/") or not name else ""
        content = self.server.files.get(name)
        if content is None:
            self.send_error(404)
            return
        ending = name.rpartition(".")[2]
        squeezed = ending in SQUEEZED and "gzip" in self.headers.get("Accept-Encoding", "")
        if squeezed:
            content = self.server.squeezed(name)
        self.send_response(200)
        if squeezed:
            self.send_header("Content-Encoding", "gzip")
        self.send_header("Content-Type", KINDS[ending])
        self.send_header("Content-Length", str(len(content)))
        self.send_header("Cache-Control", "no-cache")
        self.end_headers()
        self.wfile.write(content)

    def log_message(self, *_: object) -> None:
        """Says nothing."""


class _Server(ThreadingHTTPServer):
    daemon_threads = True

    def __init__(self, files: Mapping[str, bytes], port: int) -> None:
        self.files, self._squeezed = files, dict[bytes, bytes]()
        super().__init__((HOST, port), _Handler)

    def squeezed(self, name: str) -> bytes:
        """A file packed by gzip."""
        content = self.files[name]
        if content not in self._squeezed:
            self._squeezed[content] = gzip.compress(content, 6, mtime=0)
        return self._squeezed[content]


@contextmanager
def served(files: Mapping[str, bytes], port: int = 0) -> Iterator[str]:
    """Serves the files on this machine alone, at a free port for 0; gives the address.

    Raises:
        OSError: the port is taken.
    """
    with _Server(files, port) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        try:
            yield f"http://{HOST}:{server.server_address[1]}/"
        finally:
            server.shutdown()
