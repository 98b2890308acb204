import sys
from pathlib import Path

import pytest

from sheetplan.workbook.hosts import excel_setup
from sheetplan.workbook.hosts.excel_setup import findings


def test_findings_name_the_python_and_what_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    found = {finding.what: finding for finding in findings()}
    assert sys.executable in found["Python"].detail
    assert found["Excel's system"].here == (sys.platform in ("win32", "darwin"))
    monkeypatch.setattr(excel_setup.importlib.util, "find_spec", lambda _: None)
    missing = {finding.what: finding for finding in findings()}["xlwings"]
    assert not missing.here
    assert "pip install" in missing.detail


def test_an_installed_add_in_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(excel_setup, "add_in_places", lambda: (tmp_path,))
    assert not findings()[-1].here
    (tmp_path / "xlwings.xlam").touch()
    assert findings()[-1].here


@pytest.mark.parametrize(
    ("system", "folder"), [("win32", "XLSTART"), ("darwin", "Startup.localized"), ("linux", None)]
)
def test_add_ins_are_looked_for_where_each_system_keeps_them(
    monkeypatch: pytest.MonkeyPatch, system: str, folder: str | None
) -> None:
    monkeypatch.setattr(excel_setup.sys, "platform", system)
    places = excel_setup.add_in_places()
    assert (not places) if folder is None else folder in str(places[0])
