"""Prices, orders, invoices, payments and the family's private link; bank statements, vouchers, returns."""

from orders.models.banking import BankColumns, Statement, StatementLine
from orders.models.kept import InvoicePdf, Receipt, VatThreshold
from orders.models.margins import JobEffort, WorkRates
from orders.models.quotes import FamilyAnswer, Quote
from orders.models.royalties import RoyaltyLine, RoyaltyReturn, RoyaltyTerms
from orders.models.sales import (
    Invoice,
    LinkMiss,
    NumberSeries,
    Order,
    OrderLine,
    ParentLink,
    Payment,
    Price,
    PriceBand,
    PriceList,
    VatRate,
)
from orders.models.vouchers import Voucher

__all__ = [
    "BankColumns",
    "FamilyAnswer",
    "Invoice",
    "InvoicePdf",
    "JobEffort",
    "LinkMiss",
    "NumberSeries",
    "Order",
    "OrderLine",
    "ParentLink",
    "Payment",
    "Price",
    "PriceBand",
    "PriceList",
    "Quote",
    "Receipt",
    "RoyaltyLine",
    "RoyaltyReturn",
    "RoyaltyTerms",
    "Statement",
    "StatementLine",
    "VatRate",
    "VatThreshold",
    "Voucher",
    "WorkRates",
]
