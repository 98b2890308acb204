"""Commands in this process: a process of its own takes a second to start, and says the same."""

import contextlib
import io
import subprocess
import sys
from pathlib import Path

import pytest

from sheetplan.cli import main


def run(*arguments: str | Path, folder: Path) -> subprocess.CompletedProcess[str]:
    """A command typed in a folder: its exit code and what it said, as of a process."""
    command = ["sheetplan", *map(str, arguments)]
    out, err = io.StringIO(), io.StringIO()
    with (
        pytest.MonkeyPatch.context() as patch, contextlib.chdir(folder),
        contextlib.redirect_stdout(out), contextlib.redirect_stderr(err),
    ):  # fmt: skip
        patch.setattr(sys, "argv", command)
        with pytest.raises(SystemExit) as ended:
            main()
    code = ended.value.code
    assert isinstance(code, int)
    return subprocess.CompletedProcess(command, code, out.getvalue(), err.getvalue())
