from pathlib import Path

from sheetplan.workbook.hosts.excel_checklist import CHECKLIST, checklist_page
from sheetplan.workbook.live_runs import RUN_LABELS

ROOT = Path(__file__).parents[3]


def test_every_step_says_what_should_be_seen() -> None:
    assert all(do.endswith((".", ").")) and see.endswith(".") for do, see in CHECKLIST)


def test_every_run_of_the_page_start_is_looked_at() -> None:
    said = " ".join(step for step, _ in CHECKLIST)
    assert all(label in said for label in RUN_LABELS.values())


def test_the_page_for_developers_holds_the_same_text() -> None:
    assert checklist_page() in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
