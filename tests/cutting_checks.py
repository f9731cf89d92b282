"""Checks of cuttings that share nothing with the code that makes them."""

from collections import Counter
from itertools import pairwise


def check_bars(plan, rails, stock_mm, rack, loss_mm):
    """Every rail once, none overlapping, none on a defect, losses kept, matched sides on one bar."""
    cut = [cut.rail for bar in plan.bars for cut in bar.cuts]
    assert Counter(cut) == Counter(rails)
    used = Counter(bar.bar for bar in plan.bars if not bar.is_new)
    used.update(plan.untouched)
    assert used == Counter(rack)
    of_set = {}
    for number, bar in enumerate(plan.bars):
        assert not bar.is_new or bar.bar.length_mm == stock_mm
        spans = sorted(
            [(c.from_mm, c.to_mm, "rail") for c in bar.cuts]
            + [(run.from_mm, run.to_mm, "rest") for run in bar.offcuts]
        )
        assert all(0 <= start <= end <= bar.bar.length_mm for start, end, _ in spans)
        for one, other in pairwise(spans):
            assert one[1] <= other[0]
            if one[2] == "rail" and not _defect_between(bar.bar, one[1], other[0]):
                assert other[0] - one[1] >= loss_mm
        for start, end, _ in spans:
            assert all(end <= a or start >= b for a, b in bar.bar.defects)
        assert bar.cuts
        for cut_ in bar.cuts:
            if cut_.rail.matched:
                of_set.setdefault(cut_.rail.matched, set()).add(number)
    assert all(len(bars) == 1 for bars in of_set.values())


def _defect_between(bar, left, right):
    return any(left <= a and b <= right for a, b in bar.defects)


def least_by(proof, sizes, stock, rack, loss_mm):
    """Work the proof out again with a knapsack of our own: plain, unbounded, over dictionaries."""
    weights = dict(proof.weights)
    total = sum(weights[size] for size in sizes)

    def most(runs):
        return sum(_heaviest(weights, Counter(sizes), run + loss_mm) for run in runs)

    in_rack = sum(most([run.length_mm for run in bar.runs(loss_mm)]) for bar in rack)
    return max(0, -(-(total - in_rack) // most([stock])))


def _heaviest(weights, often, capacity):
    best = {0: 0}
    for size, count in often.items():
        for _ in range(min(count, capacity // size)):
            more = {at + size: w + weights[size] for at, w in best.items() if at + size <= capacity}
            changed = False
            for at, weight in more.items():
                if weight > best.get(at, -1):
                    best[at], changed = weight, True
            if not changed:
                break
    return max(best.values())


def check_sheet(placed, width, height, kerf):
    """Everything fits, nothing overlaps, and the parts come apart by cuts from edge to edge.

    `placed`: (x, y, width, height). Each part has its kerf at the right and on top, so has the sheet.
    """
    boxes = [(x, y, x + w + kerf, y + h + kerf) for x, y, w, h in placed]
    for x, y, right, top in boxes:
        assert x >= 0
        assert y >= 0
        assert right <= width + kerf
        assert top <= height + kerf
    for place, one in enumerate(boxes):
        for other in boxes[place + 1 :]:
            apart = one[2] <= other[0] or other[2] <= one[0]
            assert apart or one[3] <= other[1] or other[3] <= one[1]
    assert _comes_apart(boxes)


def saw(width, height, cuts):
    """Cut a sheet by (upright, at, from, to, kerf) in their order; the pieces (x, y, width, height).

    Each cut must run from edge to edge of one piece that is still whole, and cut something off it.
    """
    pieces = [(0, 0, width, height)]
    for upright, at, start, end, kerf in cuts:
        spans = []
        for x, y, w, h in pieces:
            along, low, high = ((y, y + h), x, x + w) if upright else ((x, x + w), y, y + h)
            if along == (start, end) and low <= at < high:
                spans.append((x, y, w, h))
        assert len(spans) == 1, "one piece, and only one, is cut from edge to edge"
        (whole,) = spans
        x, y, w, h = whole
        pieces.remove(whole)
        if upright:
            pieces += [(x, y, at - x, h), (at + kerf, y, x + w - at - kerf, h)]
        else:
            pieces += [(x, y, w, at - y), (x, at + kerf, w, y + h - at - kerf)]
        pieces = [piece for piece in pieces if piece[2] > 0 and piece[3] > 0]
    return pieces


def _comes_apart(boxes):
    if len(boxes) <= 1:
        return True
    for low, high in ((0, 2), (1, 3)):
        for at in {box[high] for box in boxes}:
            first = [box for box in boxes if box[high] <= at]
            rest = [box for box in boxes if box[low] >= at]
            if first and rest and len(first) + len(rest) == len(boxes):
                return _comes_apart(first) and _comes_apart(rest)
    return False
