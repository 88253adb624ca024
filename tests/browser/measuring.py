"""What a page measures in the browser."""

from typing import Any

_CELLS_OUTSIDE = """
[...document.querySelectorAll("tbody td, tbody th")].filter(cell => {
  const {left, right} = cell.getBoundingClientRect()
  return left < 0 || right > innerWidth || cell.scrollWidth > cell.clientWidth
}).map(cell => cell.innerText)
"""


def cells_outside(page: Any) -> list[str]:
    """The words of the cells that stick out of the window, to the left or to the right."""
    found: list[str] = page.evaluate(_CELLS_OUTSIDE)
    return found


def sideways(page: Any) -> int:
    """How many pixels the page is wider than its window."""
    found: int = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    return found
