"""What is read at arm's length in a table: a day or a measure is never torn in two."""

from django.urls import reverse

from tests.addresses import a_studio

# Every day ("Thu 3 Dec") and measure ("1.12 kg") of a table's cell that begins on one line and ends on another.
TORN = r"""() => {
  const whole = /\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) \d+ [A-Z][a-z]{2}\b|\b[\d.]+ (?:g|kg|m|days|times)\b|2 × \d+/g;
  const torn = [];
  for (const cell of document.querySelectorAll(".table :is(td, th)")) {
    const words = document.createTreeWalker(cell, NodeFilter.SHOW_TEXT);
    while (words.nextNode()) {
      for (const found of words.currentNode.data.matchAll(whole)) {
        const range = document.createRange();
        range.setStart(words.currentNode, found.index);
        range.setEnd(words.currentNode, found.index + found[0].length);
        const tops = [...range.getClientRects()].map((each) => Math.round(each.top));
        if (new Set(tops).size > 1) torn.push(found[0]);
      }
    }
  }
  return torn;
}"""
PAGES = (
    "production:frames",
    "production:stores",
    "production:purchases",
    "orders:money",
    "orders:invoices",
    "orders:payments",
    "orders:vouchers",
    "orders:day_book",
    "orders:earnings",
    "orders:royalty",
)


def test_no_day_and_no_measure_of_a_table_is_torn_on_a_tablet(open_window, unit, owner):
    a_studio(unit)
    window = open_window(owner)
    torn, cells = [], 0
    for name in PAGES:
        window.open(reverse(name))
        for width in (660, 768, 820):
            window.resize(width)
            torn += [f"{name} at {width}: {each}" for each in window.page.evaluate(TORN)]
            torn += [f"{name} at {width}: {fault}" for fault in window.too_wide()]
        cells += window.page.locator(".table td").count()
    assert cells > 40
    assert torn == []
