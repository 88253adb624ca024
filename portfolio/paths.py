"""Where the folders that ship with the package are: beside it, or inside it in a wheel."""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def _shipped(name: str, *, package: Path = _PACKAGE) -> Path:
    # Installed, the package's parent is site-packages, where another project may have left a folder
    # named "templates": only a parent that is our checkout counts.
    checkout = package.parent
    bundled = package / "_bundled" / name
    if (checkout / "pyproject.toml").is_file() and (checkout / name).is_dir():
        return checkout / name
    if bundled.is_dir():
        return bundled
    raise FileNotFoundError(
        f'The folder "{name}" is neither beside the package ({checkout}) nor in it ({bundled}). '
        "The installation is incomplete: install the package again."
    )


def templates_dir() -> Path:
    """Jinja and typst templates."""
    return _shipped("templates")


def migrations_dir() -> Path:
    """Alembic's environment and the migrations."""
    return _shipped("migrations")


def seed_demo_dir() -> Path:
    """The demonstration portfolio."""
    return _shipped("seed_demo")
