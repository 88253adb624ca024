"""Guards over the tree itself: what a reviewer would have to look for each time."""

import ast
import importlib.metadata
import re
import socket
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from importlinter import cli as import_linter
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.support.network import NetworkBlocked, is_local

ROOT = Path(__file__).resolve().parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))

LONGEST_MODULE = 400
# path -> why it is allowed to be longer
LONGER_MODULES: dict[str, str] = {}

# Built from halves, so that this file may be searched too.
UNFINISHED = re.compile(r"\b(" + "|".join(("TO" + "DO", "FIX" + "ME", "XX" + "X")) + r")\b")
# Files that hold other people's text, or none.
NOT_OURS = {"vendor", "__pycache__", "_bundled"}
TEXT = {".py", ".html", ".css", ".js", ".md", ".toml", ".typ", ".svg", ".txt", ".csv", ".json"}

JINJA_COMMENT = re.compile(r"\{#.*?#\}", re.DOTALL)
# Each would be refused by the content security policy, and only a browser would tell.
INLINE = {
    "a style attribute": re.compile(r"<[^>]*\sstyle\s*=", re.IGNORECASE),
    "a style element": re.compile(r"<style\b", re.IGNORECASE),
    "an inline script": re.compile(
        r"<script\b(?![^>]*\bsrc\s*=)(?![^>]*\btype\s*=\s*[\"']application/json[\"'])",
        re.IGNORECASE,
    ),
    "an event attribute": re.compile(r"<[^>]*\son[a-z]+\s*=\s*[\"']", re.IGNORECASE),
    "a javascript: address": re.compile(r"[\"']\s*javascript:", re.IGNORECASE),
}


def _files(*folders: str, suffixes: set[str]) -> Iterator[Path]:
    for folder in folders:
        for path in sorted((ROOT / folder).rglob("*")):
            ours = not NOT_OURS.intersection(path.relative_to(ROOT).parts)
            if ours and path.suffix in suffixes and path.is_file():
                yield path


def _name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"), filename=str(path))


def test_templates_have_no_inline_style_or_script() -> None:
    found = []
    for path in _files("templates", suffixes={".html", ".svg", ".xml"}):
        markup = JINJA_COMMENT.sub("", path.read_text("utf-8"))
        found += [f"{_name(path)}: {what}" for what, rule in INLINE.items() if rule.search(markup)]
    assert found == []


@pytest.mark.parametrize(
    ("markup", "what"),
    [
        ('<p style="width: 3%">', "a style attribute"),
        ("<style>p {}</style>", "a style element"),
        ("<script>go()</script>", "an inline script"),
        ('<script type="module">go()</script>', "an inline script"),
        ('<button onclick="go()">', "an event attribute"),
        ('<a href="javascript:go()">', "a javascript: address"),
    ],
)
def test_the_template_guard_sees_what_the_browser_would_refuse(markup: str, what: str) -> None:
    assert [name for name, rule in INLINE.items() if rule.search(markup)] == [what]


@pytest.mark.parametrize(
    "markup",
    [
        '<script type="module" src="/static/app.js"></script>',
        '<script id="rows" type="application/json">[]</script>',
        '<td data-style="dense" class="on">one = "two"</td>',
        '{% set style = "dense" %}',
    ],
)
def test_the_template_guard_lets_harmless_markup_pass(markup: str) -> None:
    assert [name for name, rule in INLINE.items() if rule.search(markup)] == []


def test_no_module_is_longer_than_a_reader_can_hold() -> None:
    lengths = {
        _name(path): sum(1 for line in path.read_text("utf-8").splitlines() if line.strip())
        for path in _files("portfolio", suffixes={".py"})
    }
    too_long = {name for name, length in lengths.items() if length > LONGEST_MODULE}
    assert too_long == set(LONGER_MODULES), "split it, or give the reason in LONGER_MODULES"


def test_every_function_that_asserts_is_run_or_is_a_helper() -> None:
    idle = []
    for path in _files("tests", suffixes={".py"}):
        for function in _functions(_tree(path)):
            asserts = any(isinstance(node, ast.Assert) for node in ast.walk(function))
            known = function.name.startswith(("test_", "assert_", "check_", "_"))
            # A decorated function is a fixture, a hook or a property: pytest or a test calls it.
            if asserts and not known and not function.decorator_list:
                idle.append(f"{_name(path)}:{function.lineno} {function.name}")
    assert idle == []


def test_every_file_with_tests_is_collected() -> None:
    unseen = [
        _name(path)
        for path in _files("tests", suffixes={".py"})
        if not path.name.startswith("test_")
        and any(function.name.startswith("test_") for function in _functions(_tree(path)))
    ]
    assert unseen == []


def _functions(tree: ast.Module) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    """Functions of the module and methods of its classes; not functions inside functions."""
    for node in tree.body:
        for inner in node.body if isinstance(node, ast.ClassDef) else [node]:
            if isinstance(inner, ast.FunctionDef | ast.AsyncFunctionDef):
                yield inner


def test_nothing_is_left_unfinished() -> None:
    folders = ("portfolio", "migrations", "templates", "tests", "seed_demo")
    paths = [*_files(*folders, suffixes=TEXT), *ROOT.glob("*.md"), *ROOT.glob("*.toml")]
    paths += [path for path in (ROOT / ".ci").iterdir() if path.is_file()]
    assert [_name(path) for path in paths if UNFINISHED.search(path.read_text("utf-8"))] == []


def test_the_import_contracts_are_kept(capsys: pytest.CaptureFixture[str]) -> None:
    code = import_linter.lint_imports(config_filename=str(ROOT / "pyproject.toml"), no_cache=True)
    assert code == 0, capsys.readouterr().out


def test_the_installed_version_is_the_one_in_the_project_file() -> None:
    project = PROJECT["project"]
    installed = importlib.metadata.version(project["name"])
    assert installed == project["version"], 'install again: pip install -e ".[test]"'


def _pins() -> dict[str, str]:
    lines = (ROOT / ".ci" / "constraints.txt").read_text("utf-8").splitlines()
    # A marker may follow the version: `name==1.0 ; sys_platform == 'win32'`.
    pairs = (line.partition(";")[0].strip().split("==") for line in lines)
    return {canonicalize_name(name): version for name, version in pairs}


def test_every_dependency_is_pinned_within_its_range() -> None:
    project = PROJECT["project"]
    extras = project["optional-dependencies"].values()
    wanted = [Requirement(text) for group in (project["dependencies"], *extras) for text in group]
    pins = _pins()
    wrong = [
        f"{requirement}: {pin}"
        for requirement in wanted
        if (pin := pins.get(canonicalize_name(requirement.name))) is None
        or pin not in requirement.specifier
    ]
    assert wrong == [], "refresh .ci/constraints.txt"


def test_constraints_name_versions_and_no_address() -> None:
    text = (ROOT / ".ci" / "constraints.txt").read_text("utf-8")
    assert "://" not in text
    assert "--" not in text


@pytest.mark.parametrize("host", ["localhost", "127.0.0.1", "127.8.9.1", "::1", None, b"localhost"])
def test_this_machine_is_local(host: object) -> None:
    assert is_local(host)


@pytest.mark.parametrize("host", ["example.test", "192.0.2.1", "10.0.0.1", "2001:db8::1"])
def test_any_other_machine_is_not_local(host: str) -> None:
    assert not is_local(host)


def test_a_test_cannot_reach_another_machine() -> None:
    with socket.socket() as plug, pytest.raises(NetworkBlocked, match=r"192\.0\.2\.1"):
        plug.connect(("192.0.2.1", 80))


def test_a_test_cannot_look_up_another_machine() -> None:
    with pytest.raises(NetworkBlocked, match=r"example\.test"):
        socket.getaddrinfo("example.test", 80)
