"""The page of a plan as text: what stands in it, how large it is, and that nothing but it can run."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import shutil
import subprocess
import sysconfig
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from sheetplan.model import Plan
from sheetplan.pages.floor import pictures
from sheetplan.pages.floor.plan import SCRIPTS
from tests.pages.floor.plans import hostile_plan, many_pieces, page_of

MEGABYTE = 1_000_000


def values(html: str) -> dict[str, Any]:
    found = re.search(r'<script type="application/json" id="values">(.*?)</script>', html, re.DOTALL)
    assert found is not None
    told: dict[str, Any] = json.loads(found[1])
    return told


class Seen(HTMLParser):
    """Elements with their attributes, as another reader of HTML than a browser finds them."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))


@pytest.mark.parametrize("plan_name", ["inch_plan", "mm_plan"])
def test_every_layout_stands_on_it_in_the_books_units(
    request: pytest.FixtureRequest, plan_name: str
) -> None:
    html = page_of(request.getfixturevalue(plan_name)).decode()
    told = values(html)
    assert {sheet["tag"] for sheet in told["sheets"]} == {"L1", "L2", "L3"}
    sizes = {sheet["tag"]: sheet["size"] for sheet in told["sheets"]}
    # 48 by 96 in is 1219.2 by 2438.4 mm: the international inch, 25.4 mm.
    assert sizes["L1"] == ("48 x 96 in" if told["unit"] == "in" else "1219.2 x 2438.4 mm")


def test_the_pieces_of_an_order_are_those_of_the_tickets(inch_plan: Plan) -> None:
    told = values(page_of(inch_plan).decode())
    order = next(at for at, one in enumerate(told["orders"]) if one["name"] == "H-2044")
    shares = [share for sheet in told["sheets"] for part in sheet["parts"] for share in part[3]]
    assert sum(pieces for at, pieces in shares if at == order) == 3  # WS-1, asked for by the order itself


def test_each_different_part_is_drawn_once(inch_plan: Plan) -> None:
    html = page_of(inch_plan).decode()
    lies = {(p.part, p.turn, p.mirrored) for g in inch_plan.groups for la in g.layouts for p in la.placements}
    assert len(re.findall(r'<g id="a\d+">', html)) == len(lies)
    pieces = sum(len(layout.placements) for group in inch_plan.groups for layout in group.layouts)
    assert len(re.findall(r'<use href="#a\d+"', html)) == pieces


def test_the_policy_names_the_style_and_the_script_that_stand_there(inch_plan: Plan) -> None:
    """Source: Content Security Policy Level 3 (W3C), hash-source: base64 of the text's SHA-256."""
    html = page_of(inch_plan).decode()
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', html)
    assert policy is not None
    for tag in ("style", "script"):
        [text] = re.findall(rf"<{tag}>(.*?)</{tag}>", html, re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in policy[1]
    assert "default-src 'none'" in policy[1]
    assert "unsafe" not in policy[1]


def test_nothing_on_it_names_another_place(inch_plan: Plan) -> None:
    seen = Seen(page_of(inch_plan).decode())
    for tag, attributes in seen.tags:
        assert tag not in ("link", "img", "iframe", "object", "embed", "base", "form") or (
            tag == "form" and attributes.get("method") == "dialog"
        )
        assert not any(name.startswith("on") or name in ("style", "src", "action") for name in attributes)
        for name in ("href", "xlink:href"):
            assert (attributes.get(name) or "#").startswith("#")


def test_hostile_names_add_no_element(inch_plan: Plan) -> None:
    """The same elements in the same order, whatever the names are."""
    tame = [tag for tag, _ in Seen(page_of(inch_plan).decode()).tags if tag != "tspan"]
    wild = [tag for tag, _ in Seen(page_of(hostile_plan(inch_plan), book="</title><b>.xlsx").decode()).tags]
    assert sorted(tag for tag in wild if tag != "tspan") == sorted(tame)
    html = page_of(hostile_plan(inch_plan)).decode()
    assert not re.search("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\u202e]", html)
    assert values(html)["parts"]


def test_six_thousand_pieces_stay_small() -> None:
    assert len(page_of(many_pieces(6_000))) < 12 * MEGABYTE


def test_no_plan_page_is_large(inch_plan: Plan) -> None:
    assert len(page_of(inch_plan)) < 1.5 * MEGABYTE


def test_the_library_for_codes_is_as_its_package_has_it() -> None:
    """Source: the npm package lean-qr 2.7.4; the digest is that of its index.js as npm unpacked it."""
    digest = hashlib.sha256(pictures.source("lean_qr/index.js").encode()).hexdigest()
    assert digest == "1aaa80f2ea87616a47e9ad358bb11b37ae55358ecf0c8086d2ad2a912cb183ad"
    assert "Permission is hereby granted" in pictures.vendored("lean_qr", "leanQr")


OXLINT = shutil.which("oxlint", path=sysconfig.get_path("scripts")) or shutil.which("oxlint")


@pytest.mark.skipif(OXLINT is None, reason="no oxlint here: pip install oxlint")
def test_the_linter_finds_nothing_in_the_scripts(tmp_path: Path) -> None:
    rules = {"env": {"browser": True, "es2024": True}, "globals": {"leanQr": "readonly"},
             "categories": {"correctness": "error"}, "rules": {"no-undef": "error"}}  # fmt: skip
    (tmp_path / "rules.json").write_text(json.dumps(rules), encoding="utf-8")
    script = tmp_path / "page.js"
    command = [str(OXLINT), "-c", str(tmp_path / "rules.json"), str(script)]

    def found(text: str) -> subprocess.CompletedProcess[str]:
        script.write_text(f"(() => {{\n{text}\n}})();\n", encoding="utf-8")
        return subprocess.run(command, capture_output=True, text=True, timeout=60)

    scripts = "\n".join((*map(pictures.source, SCRIPTS), "start();"))
    told = found(scripts)
    assert told.returncode == 0, told.stdout
    assert found(f"{scripts}\nconst never = used;").returncode != 0  # it can complain


@pytest.mark.skipif(shutil.which("node") is None, reason="no Node here to read the scripts with")
def test_the_scripts_are_whole_and_their_check_is_that_of_zlib(tmp_path: Path) -> None:
    """Source: the check value of CRC-32, CBF43926 for the nine digits; zlib.crc32 says the same."""
    script = tmp_path / "page.js"
    script.write_text("\n".join(map(pictures.source, SCRIPTS)), encoding="utf-8")
    subprocess.run(["node", "--check", str(script)], check=True, timeout=60)
    asked = f"{pictures.source('ledger.js')}\nprocess.stdout.write(checkOf('123456789'));"
    run = subprocess.run(["node", "-e", asked], capture_output=True, text=True, check=True, timeout=60)
    assert run.stdout == "cbf43926"
