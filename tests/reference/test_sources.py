"""Every public function that computes says where it comes from; every table row its source."""

from __future__ import annotations

import ast
import doctest
import importlib
import pkgutil
import re
from pathlib import Path

import pytest

import startwright
from startwright.reference import tables

CITED = re.compile(r"\bSources?\b|\b(18|19|20)\d\d\b")
ROOT = Path(startwright.__file__).parent
FOLDERS = ("physics", "reference", "size", "network")
BOOKKEEPING = {
    "network/solve.py:closed_by",  # looks contacts up
    "network/paths.py:floating",  # walks the graph
    "network/paths.py:shorted",  # adds ohms along the graph
    "network/states.py:node_volts",  # hands on to the two solvers, each cited
    "network/states.py:kernel",
}
"""Functions of the network that compute nothing a publication would stand behind."""


def public_functions(folder: str):
    """Every public function of a folder's modules (methods stand under their class)."""
    for path in sorted((ROOT / folder).glob("*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                yield f"{folder}/{path.name}:{node.name}", ast.get_docstring(node) or ""


@pytest.mark.parametrize("folder", ["physics", "reference", "size"])
def test_every_public_function_names_its_source(folder):
    bare = [name for name, doc in public_functions(folder) if "Source:" not in doc]
    assert not bare, f"no `Source:` in the docstring of {', '.join(bare)}"


def test_every_public_function_of_the_network_is_cited():
    """There a publication may stand with the function or, for a whole method, with its module."""
    bare = []
    for name, doc in public_functions("network"):
        path = ROOT / name.partition(":")[0]
        module = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
        if name not in BOOKKEEPING and not CITED.search(doc) and not CITED.search(module):
            bare.append(name)
    assert not bare, f"no publication is named with {', '.join(bare)}"


def test_the_walk_finds_functions():
    assert all(len(list(public_functions(f))) > 3 for f in FOLDERS)


def modules(folder: str) -> list[str]:
    package = importlib.import_module(f"startwright.{folder}")
    return [m.name for m in pkgutil.iter_modules(package.__path__, f"startwright.{folder}.")]


@pytest.mark.parametrize("name", [m for f in FOLDERS[:3] for m in modules(f)])
def test_worked_examples_run(name):
    failed, _ = doctest.testmod(importlib.import_module(name))
    assert failed == 0


def test_most_of_physics_shows_a_worked_example():
    shown = [">>>" in doc for f in ("physics", "reference") for _, doc in public_functions(f)]
    assert sum(shown) > 0.9 * len(shown)


@pytest.mark.parametrize("table", tables.names())
def test_every_row_names_its_source(table):
    rows = tables.rows(table)
    assert rows, f"{table} is empty"
    if table == "sources":
        assert len({r["source"] for r in rows}) == len(rows)
        assert all(r["publication"] and r["used_for"] for r in rows)
        return
    for row in rows:
        assert None not in row, f"{table}: a row has too many cells: {row}"
        assert row["how"] in tables.HOW, row
        assert tables.citation(row["source"]), row


def test_no_source_is_listed_in_vain():
    used = {r["source"] for t in tables.names() if t != "sources" for r in tables.rows(t)}
    listed = {r["source"] for r in tables.rows("sources")}
    assert listed == used


def test_an_unknown_table_or_source_is_refused():
    with pytest.raises(ValueError, match="no table"):
        tables.rows("nothing")
    with pytest.raises(ValueError, match="no source"):
        tables.citation("nothing")


def test_the_docs_list_every_source():
    docs = ROOT.parents[1] / "docs" / "sources.md"
    text = docs.read_text(encoding="utf-8")
    for row in tables.rows("sources"):
        assert row["publication"] in text, f"docs/sources.md does not list {row['publication']}"
