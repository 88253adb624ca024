"""Numbers only: sharing a length out, and moving labels apart until none overlaps."""

from collections.abc import Sequence


def share_out(weights: Sequence[float], total: float, *, minimum: float) -> tuple[float, ...]:
    """Divide a length in proportion to weights, none getting less than `minimum`.

    The shares add up to `total`. Where even the minimum does not fit for all, or no weight is
    above zero, the shares are equal.

    >>> share_out([3, 1], 100, minimum=10)
    (75.0, 25.0)
    >>> share_out([98, 1, 1], 100, minimum=10)
    (80.0, 10, 10)
    """
    count = len(weights)
    if count == 0:
        return ()
    largest = max(weights)
    if largest <= 0 or minimum * count >= total:
        return (total / count,) * count
    # Relative weights, so that very large or very small ones neither overflow nor vanish.
    relative = [weight / largest for weight in weights]
    small: set[int] = set()
    while True:
        left = total - minimum * len(small)
        unit = left / sum(share for at, share in enumerate(relative) if at not in small)
        newly = {at for at, share in enumerate(relative) if share * unit < minimum} - small
        if not newly:
            return tuple(
                minimum if at in small else share * unit for at, share in enumerate(relative)
            )
        small |= newly


def spread(wanted: Sequence[float], *, gap: float, low: float, high: float) -> tuple[float, ...]:
    """Move positions apart to at least `gap`, in their order, between `low` and `high`.

    Where they do not all fit, the gap shrinks and they fill the range evenly.

    >>> spread([10, 11, 50], gap=10, low=0, high=100)
    (10, 20, 50)
    >>> spread([95, 99], gap=10, low=0, high=100)
    (90, 100)
    """
    count = len(wanted)
    if count > 1 and gap * (count - 1) > high - low:
        gap = (high - low) / (count - 1)
    placed: list[float] = []
    for number, position in enumerate(wanted):
        floor = low if number == 0 else placed[-1] + gap
        placed.append(max(position, floor))
    ceiling = high
    for number in range(count - 1, -1, -1):
        placed[number] = min(placed[number], ceiling)
        ceiling = placed[number] - gap
    return tuple(placed)
