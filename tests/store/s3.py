"""Object storage on loopback: moto's S3 server, one request at a time as far as it decides.

The real thing decides on a conditional write in one step; moto looks first and writes then, so
its requests take turns here. It runs in a process of its own: the table library keeps the
interpreter to itself while it waits for an answer.
"""

import logging
import os
import subprocess
import sys
import threading
from contextlib import contextmanager
from unittest import mock
from urllib.request import Request, urlopen

import pytest


@contextmanager
def serving():
    """Serve; yield the address of an empty bucket, with the environment set to reach it."""
    server = subprocess.Popen(
        [sys.executable, __file__], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    with server:
        port = server.stdout.readline().strip()
        reach = {
            "AWS_ENDPOINT_URL": f"http://127.0.0.1:{port}",
            "AWS_ALLOW_HTTP": "true",
            "AWS_ACCESS_KEY_ID": "none",
            "AWS_SECRET_ACCESS_KEY": "none",
            "AWS_REGION": "us-east-1",
        }
        # A name of its own: the libraries remember where a bucket was.
        made = Request(f"{reach['AWS_ENDPOINT_URL']}/logs-{port}", method="PUT")  # noqa: S310  # loopback
        with urlopen(made), mock.patch.dict(os.environ, reach):  # noqa: S310  # loopback
            yield f"s3://logs-{port}"
        server.stdin.close()


def serve():
    """Serve until the standard input ends."""
    from moto.server import DomainDispatcherApplication, create_backend_app
    from werkzeug.serving import make_server

    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    moto = DomainDispatcherApplication(create_backend_app)
    turn = threading.Lock()

    def app(environ, start_response):
        with turn:
            return [b"".join(moto(environ, start_response))]

    server = make_server("127.0.0.1", 0, app, threaded=True)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    print(server.port, flush=True)
    sys.stdin.read()


@pytest.fixture(scope="module")
def bucket():
    """The address of a bucket that lasts as long as the module."""
    with serving() as address:
        yield address


if __name__ == "__main__":
    serve()
