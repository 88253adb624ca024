"""A checkout has its folders beside the package, a wheel inside it."""

from pathlib import Path

import pytest

from portfolio import paths


def _folder(path: Path) -> Path:
    path.mkdir(parents=True)
    return path


def test_a_checkout_uses_the_folder_beside_the_package(tmp_path: Path) -> None:
    (tmp_path / "pyproject.toml").touch()
    beside = _folder(tmp_path / "templates")
    _folder(tmp_path / "portfolio" / "_bundled" / "templates")
    assert paths._shipped("templates", package=tmp_path / "portfolio") == beside


def test_a_wheel_ignores_what_another_project_left_beside_it(tmp_path: Path) -> None:
    _folder(tmp_path / "templates")
    bundled = _folder(tmp_path / "portfolio" / "_bundled" / "templates")
    assert paths._shipped("templates", package=tmp_path / "portfolio") == bundled


def test_a_missing_folder_is_named_with_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError, match=r'"templates".*install the package again'):
        paths._shipped("templates", package=tmp_path / "portfolio")


@pytest.mark.parametrize("find", [paths.templates_dir, paths.migrations_dir, paths.seed_demo_dir])
def test_every_shipped_folder_is_found(find) -> None:
    assert find().is_dir()
