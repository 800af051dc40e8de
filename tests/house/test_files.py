"""What no file may hold: registry hosts, paths of one machine, open ends."""

import ast
import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
HOSTS = re.compile(
    "|".join(
        [
            r"pypi\.o" + "rg",
            r"python" + r"hosted\.org",
            r"npm" + r"js\.(com|org)",
            r"deb\.deb" + r"ian\.org",
            r"proxy\.gol" + r"ang\.org",
        ]
    )
)
# Built from pieces, so that this file passes its own test.
PLACES = re.compile(
    "/wo" + r"rk/(main|shared)|/ro" + "ot/|/home" + "/[a-z]|/op" + "t/(wheels|pypi)"
)


def tracked() -> list[Path]:
    out = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if out.returncode != 0:
        pytest.skip("not a git checkout: which files are ours is not known")
    return [ROOT / name for name in out.stdout.split("\0") if name and (ROOT / name).is_file()]


def texts() -> list[tuple[str, str]]:
    found = []
    for path in tracked():
        raw = path.read_bytes()
        if b"\0" not in raw[:8000]:
            found.append((str(path.relative_to(ROOT)), raw.decode("utf-8")))
    return found


def test_no_registry_host_and_no_path_of_one_machine():
    bad = [
        f"{name}:{n} {line.strip()[:80]}"
        for name, text in texts()
        for n, line in enumerate(text.splitlines(), 1)
        if HOSTS.search(line) or PLACES.search(line)
    ]
    assert bad == []


def test_requirements_are_hashed_and_name_no_place():
    files = [ROOT / "boot.txt", *sorted(ROOT.glob("requirements*.txt"))]
    assert len(files) == 4
    for file in files:
        text = file.read_text()
        assert "--find-links" not in text, file
        assert "--index" not in text, file
        assert "://" not in text, file
        packages = re.split(r"\n(?=[a-z0-9])", text.strip())
        for package in packages:
            assert re.match(r"[a-z0-9-]+==\S+", package), package[:60]
            assert "--hash=sha256:" in package, package[:60]


def test_the_lock_file_names_no_place():
    text = (ROOT / "package-lock.json").read_text()
    assert '"resolved"' not in text
    assert text.count('"integrity"') >= 5


def source_files() -> list[Path]:
    return sorted((ROOT / "src").rglob("*.py"))


def is_open_end(node: ast.AST) -> bool:
    """A body that does nothing, or says that it is not there yet."""
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
        # A declaration, or a group of commands that only carries options.
        declared = ("overload", "abstractmethod", "app.callback")
        if any(word in ast.unparse(d) for word in declared for d in node.decorator_list):
            return False
        last = node.body[-1]
        return isinstance(last, ast.Pass) or (
            isinstance(last, ast.Expr) and isinstance(last.value, ast.Constant)
        )
    if isinstance(node, ast.Raise) and node.exc is not None:
        return "NotImplementedError" in ast.unparse(node.exc)
    return False


def test_nothing_is_left_open():
    bad = []
    for path in source_files():
        text = path.read_text()
        tree = ast.parse(text)
        protocols = {
            id(child)
            for node in ast.walk(tree)
            if isinstance(node, ast.ClassDef) and "Protocol" in map(ast.unparse, node.bases)
            for child in node.body
        }
        bad += [
            f"{path.relative_to(ROOT)}:{node.lineno}"
            for node in ast.walk(tree)
            if is_open_end(node) and id(node) not in protocols
        ]
        bad += [
            f"{path.relative_to(ROOT)}:{n}"
            for n, line in enumerate(text.splitlines(), 1)
            if re.search(r"#.*\b(TODO|FIXME|XXX)\b", line)
        ]
    assert bad == []


@pytest.mark.parametrize(
    "text",
    [
        'def f():\n    """Says."""\n    pass',
        'def f():\n    """Says only."""',
        "def f():\n    ...",
        "def f():\n    raise NotImplementedError",
    ],
)
def test_an_open_end_is_found(text):
    assert any(is_open_end(node) for node in ast.walk(ast.parse(text)))


def test_every_module_says_what_it_is():
    silent = [
        str(p.relative_to(ROOT))
        for p in source_files()
        if not ast.get_docstring(ast.parse(p.read_text()))
    ]
    assert silent == []
