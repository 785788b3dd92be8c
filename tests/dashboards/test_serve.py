"""The server as people start it: one process, this machine only, ended by a key."""

import signal
import subprocess
import sys
import urllib.request
from pathlib import Path

CODE = """
from dashboards.app import serve
from tests.dashboards.fake_lab import FakeLab
serve(FakeLab(), 0, ready=lambda address: print(address, flush=True))
"""


def test_it_tells_its_address_serves_and_ends_cleanly():
    root = Path(__file__).parent.parent.parent
    with subprocess.Popen(
        [sys.executable, "-W", "error", "-c", CODE],
        cwd=root,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as server:
        try:
            address = server.stdout.readline().strip()
            assert address.startswith("http://127.0.0.1:"), server.stderr.read()
            with urllib.request.urlopen(address, timeout=20) as answer:  # noqa: S310 - our own
                assert answer.status == 200
                assert answer.headers["Server"] == "eventlab"
            server.send_signal(signal.SIGINT)
            assert server.wait(20) == 0
            assert server.stderr.read() == ""
        finally:
            server.kill()


def test_nothing_happens_at_import():
    code = (
        "import sys, dashboards.app;"
        "print(sorted({'dash', 'plotly', 'flask', 'polars', 'waitress'} & set(sys.modules)))"
    )
    root = Path(__file__).parent.parent.parent
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() in {"[]", "['polars']"}
