"""What every benchmark can be told."""

from dataclasses import dataclass
from pathlib import Path

DATASETS = Path(__file__).parents[2].parent / "shared" / "datasets"
"""Where the open data sets lie beside a checkout; they are read from there and never copied."""


@dataclass(frozen=True, slots=True)
class Options:
    """``data`` is the folder of the benchmark's instances; None means its own default."""

    data: Path | None = None
    seconds: float | None = None
    seed: int = 1
    only: str = ""
    workers: int = 1

    def folder(self, name: str) -> Path:
        """The data folder, or a plain exit where there is none."""
        folder = self.data or DATASETS / name
        if not folder.is_dir():
            raise SystemExit(f"no data: {folder} is not a folder (give one with --data)")
        return folder
