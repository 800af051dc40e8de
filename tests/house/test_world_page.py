"""The page that takes the world clause by clause names what is there, and leaves no rule out."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import prove.sabotage_hostile
import prove.sabotage_more
import prove.sabotage_wired
import prove.sabotage_works
import prove.sabotage_world
import prove.sound_hostile
import prove.sound_more
import prove.sound_wired
import pytest
from prove.base import Case
from prove.sabotage import SPOILT
from prove.sound import SOUND

from startwright.prove import prove

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "world.md").read_text()
CODE = re.compile(r"`((?:\w+/)+\w+\.py):([\w.]+)`")
TEST = re.compile(r"`((?:\w+/)?test_\w+\.py)::(\w+)`")
WIRING = re.compile(r"`(spoilt|sound)\[(\w+)\]`")
SECTIONS = dict(re.findall(r"^## (.+)\n((?:(?!^## ).*\n?)*)", PAGE, re.M))
ROWS = [line for line in PAGE.splitlines() if line.startswith("|") and "`" in line]


def names_in(file: Path) -> set[str]:
    """Functions, classes, constants of a module, and what its classes have, as `Class.name`."""
    found: set[str] = set()
    for node in ast.parse(file.read_text()).body:
        found |= _named(node)
        if isinstance(node, ast.ClassDef):
            found |= {f"{node.name}.{name}" for part in node.body for name in _named(part)}
    return found


def _named(node: ast.stmt) -> set[str]:
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        return {node.name}
    targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
    return {t.id for t in targets if isinstance(t, ast.Name)}


@pytest.mark.parametrize(("file", "name"), sorted(set(CODE.findall(PAGE))))
def test_the_code_is_there(file: str, name: str) -> None:
    path = ROOT / "src" / "startwright" / file
    assert path.exists()
    assert name in names_in(path)


@pytest.mark.parametrize(("file", "name"), sorted(set(TEST.findall(PAGE))))
def test_the_test_is_there(file: str, name: str) -> None:
    path = ROOT / "tests" / (file if "/" in file else f"prove/{file}")
    assert path.exists()
    assert name in names_in(path)


@pytest.mark.parametrize(("kind", "name"), sorted(set(WIRING.findall(PAGE))))
def test_the_wiring_is_there(kind: str, name: str) -> None:
    assert name in {"spoilt": SPOILT, "sound": SOUND}[kind]


def test_a_spoilt_wiring_is_meant_for_the_rule_it_stands_beside() -> None:
    for row in SECTIONS["Rules"].splitlines():
        slug = re.match(r"\| `([\w-]+)` \|", row)
        for kind, name in WIRING.findall(row) if slug else ():
            if slug and kind == "spoilt":
                assert SPOILT[name][0] == slug[1], name


def test_no_rule_is_missing_and_none_is_invented() -> None:
    told = re.findall(r"^\| `([\w-]+)` \|", SECTIONS["Rules"], re.M)
    assert len(told) == len(set(told))
    assert set(told) == {r.rule for r in prove(Case().job(), Case().wiring()).rules}


def test_every_clause_has_its_code_and_its_test() -> None:
    played = SECTIONS["Rules"].partition("What was wanted")[2]
    for row in ROWS:
        assert CODE.search(row), row
        if row not in played:
            assert TEST.search(row) or WIRING.search(row), row
