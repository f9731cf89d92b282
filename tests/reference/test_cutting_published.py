"""Published cutting problems and hand-sized ones.

- One-dimensional: PM_u010 to PM_u120 of BPPLib.jl (MIT), optima proven with an arc-flow model and
  HiGHS [src].
- Two-dimensional: cgcut1-2 (Christofides & Whitlock 1977), gcut1-3 (Beasley 1985) as in
  packingsolver (MIT), best known values [src].
- Hand-sized bars and sheets: common sizes of the trade, counted by hand [trade].

The published instances are not ours to carry: they are read where they lie beside the project, in
`shared/data/cutting/`, and left out with a word where they do not.
"""

import csv
from pathlib import Path

import pytest

from production.frames.cutting.bar_plan import Rail
from production.frames.cutting.cut_bars import cut_bars
from production.frames.cutting.cut_sheets import Part, Sheet, cut_sheets
from production.frames.cutting.guillotine import Field, Shape, fill, fill_unlimited
from tests.cutting_checks import check_bars, check_sheet, least_by

HELD = Path(__file__).resolve().parents[3] / "shared" / "data" / "cutting"
BARS = [f"PM_u{items:03}_{number:02}" for items in (10, 20, 30, 60, 120) for number in range(1, 7)]

published = pytest.mark.skipif(not HELD.is_dir(), reason="no published instances lie beside us")


def optimum(name):
    rows = csv.DictReader((HELD / "OPTIMA.csv").read_text().splitlines())
    return next(int(row["optimum"]) for row in rows if row["instance"] == name)


@published
def test_every_instance_is_tried():
    assert sorted(path.stem for path in (HELD / "one-dimensional").glob("*.txt")) == BARS


@published
@pytest.mark.parametrize("name", BARS)
def test_bars_reach_and_prove_the_published_optimum(name):
    text = (HELD / "one-dimensional" / f"{name}.txt").read_text()
    number, stock_mm, *lengths = map(int, text.split())
    assert len(lengths) == number
    rails = [Rail(length) for length in lengths]
    plan = cut_bars(rails, stock_mm=stock_mm, loss_mm=0, useful_mm=20)
    check_bars(plan, rails, stock_mm, [], 0)
    assert plan.new_bars == optimum(name)
    assert plan.is_proven
    assert least_by(plan.proof, lengths, stock_mm, [], 0) == plan.proof.least == optimum(name)


def rows(name, kind):
    path = HELD / "two-dimensional" / f"{name}_{kind}.csv"
    return list(csv.DictReader(path.read_text().splitlines()))


@published
@pytest.mark.parametrize(
    ("name", "share"),
    [("cgcut1", 1), ("cgcut2", 1), ("gcut1", 0.98), ("gcut2", 0.98), ("gcut3", 0.98)],
)
def test_sheets_reach_the_published_values(name, share):
    (sheet,), parts = rows(name, "bins"), rows(name, "items")
    width, height = int(sheet["WIDTH"]), int(sheet["HEIGHT"])
    shapes = [
        Shape(int(part["WIDTH"]), int(part["HEIGHT"]), int(part["PROFIT"]), place)
        for place, part in enumerate(parts)
    ]
    copies = [int(part.get("COPIES") or 1) for part in parts]
    best, proven = fill(Field(width, height, tuple(shapes)), copies)
    placed = list(lying(best, 0, 0))
    check_sheet([(x, y, s.width, s.height) for x, y, s in placed], width, height, 0)
    assert sum(shape.value for *_, shape in placed) == best.value
    for place, most in enumerate(copies):
        assert sum(shape.part == place for *_, shape in placed) <= most
    assert share * optimum(name) <= best.value <= optimum(name)
    assert proven


def lying(built, x, y):
    if built.shape:
        yield x, y, built.shape
    if built.halves:
        one, other = built.halves
        yield from lying(one, x, y)
        away = (one.width, 0) if built.beside else (0, one.height)
        yield from lying(other, x + away[0], y + away[1])


@pytest.mark.parametrize(
    ("stock_mm", "loss_mm", "wanted", "bars"),
    [
        (2400, 5, {497: 2, 397: 6, 347: 2, 297: 2}, 2),
        (3000, 4, {447: 8, 347: 20, 297: 12}, 5),
    ],
)
def test_hand_sized_bars(stock_mm, loss_mm, wanted, bars):
    rails = [Rail(length) for length, often in wanted.items() for _ in range(often)]
    plan = cut_bars(rails, stock_mm=stock_mm, loss_mm=loss_mm)
    check_bars(plan, rails, stock_mm, [], loss_mm)
    assert plan.new_bars == bars
    assert plan.is_proven


@pytest.mark.parametrize(
    ("sheet", "part", "without_kerf", "with_kerf"),
    [
        ((1120, 815), (300, 250), 10, 10),
        ((1120, 815), (400, 300), 6, 6),
        ((1120, 815), (305, 407), 6, 5),
        ((1120, 815), (250, 200), 17, 17),
        ((2440, 1220), (305, 407), 22, 19),
    ],
)
def test_hand_sized_sheets(sheet, part, without_kerf, with_kerf):
    for kerf, most in ((0, without_kerf), (3, with_kerf)):
        plan = cut_sheets([Part(*part)] * (most + 1), stock=Sheet(*sheet), kerf_mm=kerf)
        assert [len(each.placed) for each in plan.sheets] == [most, 1]
        for each in plan.sheets:
            check_sheet(
                [(p.x_mm, p.y_mm, p.width_mm, p.height_mm) for p in each.placed], *sheet, kerf
            )
        width, height = part[0] + kerf, part[1] + kerf
        shapes = (Shape(width, height, 1, 0), Shape(height, width, 1, 0))
        assert fill_unlimited(Field(sheet[0] + kerf, sheet[1] + kerf, shapes)).value == most
