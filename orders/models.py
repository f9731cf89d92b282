"""Registers the models of all rooms of orders with Django; import them from their rooms."""

from orders.bank.models import BankColumns, Statement, StatementLine
from orders.books.models import VatThreshold
from orders.costs.models import JobEffort, WorkRates
from orders.family_page.models import FamilyLink, LinkMiss
from orders.invoices.models import Invoice, InvoicePdf, NumberSeries
from orders.order.models import Order, OrderLine
from orders.payments.models import Payment
from orders.prices.models import Price, PriceBand, PriceList, VatRate
from orders.quotes.models import FamilyAnswer, Quote
from orders.receipts.models import Receipt
from orders.royalty.models import RoyaltyLine, RoyaltyReturn, RoyaltyTerms
from orders.vouchers.models import Voucher

__all__ = [
    "BankColumns",
    "FamilyAnswer",
    "FamilyLink",
    "Invoice",
    "InvoicePdf",
    "JobEffort",
    "LinkMiss",
    "NumberSeries",
    "Order",
    "OrderLine",
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
