"""Numbers as a reader expects to see them: thousands apart, no needless decimals."""

_LARGEST_WRITTEN_OUT, _SMALLEST_WRITTEN_OUT = 1e12, 1e-3
_HUNDREDS = 100


def amount_text(value: float, unit: str = "") -> str:
    """Write a count or a measure, with its unit where it has one.

    >>> amount_text(1234.0, "m²"), amount_text(12.5, "mm"), amount_text(0.04), amount_text(3)
    ('1,234 m²', '12.5 mm', '0.04', '3')
    """
    size = abs(value)
    if size >= _LARGEST_WRITTEN_OUT or 0 < size < _SMALLEST_WRITTEN_OUT:
        text = f"{value:.3g}"
    else:
        decimals = 1 if size >= _HUNDREDS else 2 if size >= 1 else 3
        text = f"{value:,.{decimals}f}".rstrip("0").rstrip(".")
    return f"{text} {unit}" if unit else text
