"""Only the open-source part of xlwings is needed: the Excel host works with the other part removed."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import xlwings

HERE = Path(__file__)


@pytest.mark.slow
def test_the_excel_host_works_without_the_folder_pro(tmp_path: Path) -> None:
    installed = Path(xlwings.__file__).parent
    kept = shutil.ignore_patterns("pro", "__pycache__", "*.xl*", "js", "html")
    shutil.copytree(installed, tmp_path / "xlwings", ignore=kept)
    assert not (tmp_path / "xlwings" / "pro").exists()
    start = (
        f"import sys; sys.path.insert(0, {str(tmp_path)!r}); import xlwings, pytest; "
        f"assert xlwings.__file__.startswith({str(tmp_path)!r}); "
        f"sys.exit(pytest.main(['-p', 'no:cacheprovider', {str(HERE.with_name('test_contract.py'))!r}, "
        "'-k', 'excel or inputs_changed or not_replaced']))"
    )
    run = subprocess.run(
        [sys.executable, "-c", start],
        capture_output=True,
        text=True,
        check=False,
        cwd=HERE.parents[3],
        timeout=200,
    )
    assert run.returncode == 0, run.stdout[-3000:] + run.stderr[-1000:]
    assert " passed" in run.stdout
