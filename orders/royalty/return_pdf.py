"""A royalty return as PDF and as CSV."""

from typing import Any

from orders.royalty.models import RoyaltyReturn
from studio.web import paper
from studio.web.csv_tables import amount, as_csv


def royalty_return(sent: RoyaltyReturn) -> bytes:
    """Render the frozen return as an archive PDF, always to the same bytes."""
    content = sent.readable
    shown = content | {
        "topped_up_minor": content["royalty_minor"] - content["earned_minor"],
        "any_late": any(line["is_late"] for line in content["lines"]),
    }
    return paper.pdf("paper/royalty_return.html", {"paper": shown}, variant="pdf/a-3a")


def royalty_csv(sent: RoyaltyReturn) -> str:
    """Return one row per paper, then the totals; amounts are decimals of the currency."""
    content = sent.content
    currency = content["currency"]

    def money(minor: int) -> Any:
        return amount(minor, currency)

    rows: list[list[Any]] = [
        [
            line["on"],
            line["source"],
            money(line["gross_minor"]),
            money(line["vat_minor"]),
            money(line["net_minor"]),
        ]
        for line in content["lines"]
    ]
    rows += [
        [content["last_on"], words, "", "", money(content[name])]
        for words, name in (
            ("net takings", "net_minor"),
            ("royalty", "royalty_minor"),
            ("levy", "levy_minor"),
            ("VAT on both", "vat_minor"),
            ("to pay", "payable_minor"),
        )
    ]
    return as_csv(["Day", "Paper", f"Gross {currency}", f"VAT {currency}", f"Net {currency}"], rows)
