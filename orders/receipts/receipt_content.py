"""The frozen content of a receipt; pure."""

from datetime import date
from decimal import Decimal
from typing import Any

from orders.invoices.invoice_content import Seller, seller_content
from orders.prices.vat import Received
from studio import money


def receipt(
    number: str,
    *,
    seller: Seller,
    customer_name: str,
    reference: str,
    currency: str,
    issued_on: date,
    came: Received,
    percent: Decimal | None,
) -> dict[str, Any]:
    """Return the frozen content of a receipt, as JSON data with amounts in minor units.

    `percent` is the VAT rate of the day, None if the trader was not registered then. For a
    registered trader the content has what a simplified VAT invoice needs, up to 250 GBP incl. VAT
    (SI 1995/2518 reg 16A [src]): the rate and the total with the tax; the invoice itself follows.
    """
    content: dict[str, Any] = {
        "form": 1,
        "number": number,
        "currency": currency,
        "seller": seller_content(seller),
        "customer": customer_name,
        "reference": reference,
        "issued_on": issued_on.isoformat(),
        "received_on": came.on.isoformat(),
        "amount_minor": came.amount_minor,
        "how": came.how,
    }
    if percent is not None:
        content["seller"]["vat_number"] = seller.vat_number
        content["tax_name"] = seller.tax_name
        content["percent"] = f"{percent.normalize():f}"
        content["vat_minor"] = money.vat_inside(came.amount_minor, percent)
    return content
