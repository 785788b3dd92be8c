"""Run a command as it would be typed, inside this process."""

import json
from dataclasses import dataclass

import pytest

from eventlab.cli import main


@dataclass(frozen=True)
class Done:
    status: int
    out: str
    err: str

    def json(self):
        return json.loads(self.out)


@pytest.fixture
def run(capsys):
    def typed(*words):
        with pytest.raises(SystemExit) as left:
            main([str(word) for word in words])
        captured = capsys.readouterr()
        return Done(int(left.value.code or 0), captured.out, captured.err)

    return typed
