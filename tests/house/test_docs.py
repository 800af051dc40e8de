"""Docs cannot rot: links lead somewhere, commands and rules and choices are those there are."""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
STARTWRIGHT = Path(sys.executable).parent / "startwright"
PAGES = [ROOT / "README.md", ROOT / "CONTRIBUTING.md", *sorted((ROOT / "docs").rglob("*.md"))]
LINK = re.compile(r"(?<!`)\[[^\]\n]*\]\(([^)\s]+)\)")
COMMAND = re.compile(r"^\s*\$ startwright (.*?)(?:\s+#.*)?$", re.M)


def name(page: Path) -> str:
    return str(page.relative_to(ROOT))


def anchors(page: Path) -> set[str]:
    """The anchors that headings of a page make."""
    heads = re.findall(r"^#+ (.+)$", page.read_text(), re.M)
    return {re.sub(r"[^\w\- ]", "", h.lower()).strip().replace(" ", "-") for h in heads}


@pytest.mark.parametrize("page", PAGES, ids=name)
def test_links_lead_somewhere(page):
    dead = []
    for link in LINK.findall(page.read_text()):
        if "://" in link:
            continue
        file, _, anchor = link.partition("#")
        target = (page.parent / file).resolve() if file else page
        anchored = not anchor or target.suffix != ".md" or anchor in anchors(target)
        if not target.exists() or not anchored:
            dead.append(link)
    assert dead == []


def help_of(*verb: str) -> str:
    result = subprocess.run(
        [STARTWRIGHT, *verb, "--help"],
        capture_output=True,
        text=True,
        env={"PATH": "/usr/bin:/bin", "COLUMNS": "200", "TERM": "dumb", "NO_COLOR": "1"},
        check=False,
    )
    assert result.returncode == 0, result.stderr
    return result.stdout


def verbs() -> list[str]:
    from startwright.cli import app

    return [c.name or c.callback.__name__.strip("_") for c in app.registered_commands]


def test_every_verb_is_documented():
    written = "\n".join(p.read_text() for p in PAGES)
    assert [v for v in verbs() if f"startwright {v}" not in written] == []


def test_commands_in_the_docs_exist():
    said: dict[str, set[str]] = {}
    for page in PAGES:
        for line in COMMAND.findall(page.read_text()):
            words = line.split(">")[0].split()
            options = {w.split("=")[0] for w in words if w.startswith("--")}
            said.setdefault(words[0], set()).update(options)
    assert said, "no page shows a command"
    for verb, options in said.items():
        if verb.startswith("-"):
            continue
        assert verb in verbs(), verb
        helped = help_of(verb)
        for option in options:
            assert re.search(rf"(?<![\w-]){option}(?![\w-])", helped), f"{verb} has no {option}"


def test_every_rule_is_documented():
    from startwright.example import path
    from startwright.prove import prove
    from startwright.records.read import read_job, read_wiring

    written = "\n".join(p.read_text() for p in (ROOT / "docs").rglob("*.md"))
    job = read_job(path() / "jobs" / "plain.yaml")
    rules = prove(job, read_wiring(path() / "wirings" / "plain.yaml")).rules
    slugs = [rule.rule for rule in rules]
    assert len(slugs) >= 20
    assert [s for s in slugs if f"`{s}`" not in written] == []


def test_every_runtime_dependency_is_a_choice_with_a_reason():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    chosen = (ROOT / "docs" / "choices.md").read_text().lower()
    named = [re.split(r"[<>=\[]", d)[0] for d in project["dependencies"]]
    assert [n for n in named if n.split("-")[-1].split(".")[0] not in chosen] == []


def test_the_two_commands_stand_in_the_readme_and_are_there():
    readme = (ROOT / "README.md").read_text()
    makefile = (ROOT / "Makefile").read_text()
    for target in ("run", "test"):
        assert f"$ make {target}" in readme
        assert re.search(rf"^{target}:", makefile, re.M)


def test_news_are_one_line_each():
    fragments = [p for p in (ROOT / "news").glob("*.md") if p.name != "README.md"]
    assert fragments
    for fragment in fragments:
        assert re.fullmatch(r"\d+\.[a-z0-9-]+\.md", fragment.name), fragment.name
        assert len(fragment.read_text().strip().splitlines()) == 1, fragment.name
