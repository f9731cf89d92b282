"""What the owner types about bank statements, vouchers and the royalty."""

from datetime import date
from typing import Any

from dateutil.relativedelta import relativedelta
from django import forms

from orders import bank_files
from orders.models import BankColumns, JobEffort, Payment, RoyaltyTerms, WorkRates
from studio.fields import MoneyField
from studio.forms import DateInput, KeyedForm, StudioForm
from studio.models import Unit

GOOD_FOR_MONTHS = 24


class StatementForm(StudioForm):
    file = forms.FileField(
        label="File of the bank",
        help_text="CSV, OFX or camt.053, as your bank exports it. Only its lines are kept.",
        error_messages={
            "required": "Choose the file that you exported from your bank.",
            "empty": "This file is empty: export the statement again.",
        },
    )


class ColumnsForm(StudioForm):
    """Which column of a bank's table holds what."""

    booked_on = forms.ChoiceField(label="Day")
    date_form = forms.ChoiceField(
        label="How the day is written", choices=list(bank_files.DATE_FORMS.items())
    )
    words = forms.ChoiceField(label="Words of the payer")
    name = forms.ChoiceField(label="Name of the payer", required=False)
    amount = forms.ChoiceField(
        label="Amount", required=False, help_text="One column, with a sign for what went out."
    )
    money_in = forms.ChoiceField(label="Or: paid in", required=False)
    money_out = forms.ChoiceField(label="And: paid out", required=False)

    def __init__(
        self, headings: list[str], data: Any = None, *, known: BankColumns | None = None
    ) -> None:
        super().__init__(data, initial=forms.model_to_dict(known) if known else None)
        named = [(head, head) for head in dict.fromkeys(headings) if head]
        for name in ("booked_on", "words", "name", "amount", "money_in", "money_out"):
            field = self.fields[name]
            none = [("", "none")] if not field.required else [("", "choose")]
            field.choices = none + named  # type: ignore[attr-defined]  # a ChoiceField each
        self.order_fields(
            ["booked_on", "date_form", "words", "name", "amount", "money_in", "money_out"]
        )

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        one, two = facts.get("amount"), facts.get("money_in")
        if bool(one) == bool(two):
            self.add_error(
                "amount", "Choose one column of amounts, or the column of what was paid in."
            )
        return facts

    def columns(self) -> bank_files.Columns:
        return bank_files.Columns(**self.cleaned_data)


class PostForm(KeyedForm):
    """An order to post a line on, by its reference."""

    reference = forms.CharField(label="Job", max_length=12)


class SetAsideForm(StudioForm):
    why = forms.CharField(
        label="What it is instead",
        max_length=200,
        error_messages={"required": "Write what it is instead."},
    )


class VoucherForm(KeyedForm):
    buyer = forms.CharField(label="Bought by", max_length=80)
    for_whom = forms.CharField(label="For", max_length=80, required=False)
    words = forms.CharField(label="Words on the card", max_length=160, required=False)
    method = forms.ChoiceField(
        label="How it was paid",
        choices=[(method.value, method.label) for method in Payment.MONEY],
        widget=forms.RadioSelect,
        error_messages={"required": "Say how it was paid."},
    )
    expires_on = forms.DateField(label="Good until", widget=DateInput())
    taxed_when_sold = forms.BooleanField(
        label="It can only buy goods of one tax rate",
        required=False,
        help_text="Then its sale is what is charged and taxed, now, at the price paid; what it pays for "
        "later is taken off that invoice and taxed no more. One that can buy goods of several rates is "
        "taxed when it is used. Ask your accountant once, and keep to it.",
    )

    def __init__(self, unit: Unit, data: Any = None, *, today: date) -> None:
        last = unit.vouchers.first()
        initial = {
            "expires_on": today + relativedelta(months=GOOD_FOR_MONTHS),
            "taxed_when_sold": bool(last and last.taxed_when_sold),
        }
        super().__init__(data, initial=initial)
        currency = unit.currency
        self.fields["value_minor"] = MoneyField(currency=currency, label="Worth")
        self.fields["price_minor"] = MoneyField(
            currency=currency,
            label="Sold for",
            required=False,
            help_text="Leave it empty where it is sold for what it is worth.",
        )
        self.order_fields(["value_minor", "price_minor", "buyer", "for_whom", "words"])

    def facts(self) -> dict[str, Any]:
        found = {name: self.cleaned_data[name] for name in self.cleaned_data if name != "key"}
        price_minor = found["price_minor"]
        found["price_minor"] = found["value_minor"] if price_minor is None else price_minor
        return found


class UseVoucherForm(KeyedForm):
    code = forms.CharField(
        label="Code",
        max_length=20,
        help_text="As it is read out: capitals, spaces and the hyphen do not matter.",
        error_messages={"required": "Type the code that stands on the card."},
    )

    def __init__(self, currency: str, data: Any = None) -> None:
        super().__init__(data)
        self.fields["amount_minor"] = MoneyField(
            currency=currency,
            label="Amount",
            required=False,
            help_text="Leave it empty to use as much as both allow.",
        )


class RoyaltyTermsForm(StudioForm):
    valid_from = forms.DateField(label="In force from", widget=DateInput())
    royalty_percent = forms.DecimalField(
        label="Royalty, %", min_value=0, max_value=100, decimal_places=2
    )
    levy_percent = forms.DecimalField(
        label="Levy for the common fund, %", min_value=0, max_value=100, decimal_places=2, initial=0
    )
    vat_percent = forms.DecimalField(
        label="VAT that is charged on both, %",
        min_value=0,
        max_value=100,
        decimal_places=2,
        required=False,
    )
    basis = forms.ChoiceField(
        label="Reckoned by", choices=RoyaltyTerms.Basis.choices, widget=forms.RadioSelect
    )
    voucher_at = forms.ChoiceField(
        label="Vouchers count", choices=RoyaltyTerms.VoucherAt.choices, widget=forms.RadioSelect
    )
    every_months = forms.TypedChoiceField(
        label="A return",
        choices=[
            (1, "every month"),
            (3, "every quarter"),
            (6, "every half year"),
            (12, "every year"),
        ],
        coerce=int,
    )

    def __init__(
        self, currency: str, data: Any = None, *, last: RoyaltyTerms | None = None
    ) -> None:
        initial = {"basis": "invoiced", "voucher_at": "use", "every_months": 1}
        super().__init__(data, initial=forms.model_to_dict(last) if last else initial)
        self.fields["minimum_minor"] = MoneyField(
            currency=currency, label="Least royalty of a return", required=False, initial=0
        )
        self.order_fields(["valid_from", "royalty_percent", "levy_percent", "minimum_minor"])

    def facts(self) -> dict[str, Any]:
        return self.cleaned_data | {"minimum_minor": self.cleaned_data["minimum_minor"] or 0}


class WorkRatesForm(StudioForm):
    card_percent = forms.DecimalField(
        label="The card terminal takes, %", min_value=0, max_value=100, decimal_places=2
    )

    def __init__(self, currency: str, data: Any = None, *, own: WorkRates) -> None:
        super().__init__(data, initial=forms.model_to_dict(own))
        self.fields["hour_minor"] = MoneyField(currency=currency, label="An hour of yours")
        self.order_fields(["hour_minor", "card_percent"])


class EffortForm(StudioForm):
    minutes = forms.IntegerField(
        label="Minutes of work, all in all", min_value=0, max_value=100_000, required=False
    )

    def __init__(
        self, currency: str, data: Any = None, *, effort: JobEffort | None, usual: int
    ) -> None:
        super().__init__(data, initial=forms.model_to_dict(effort) if effort else None)
        self.fields["minutes"].help_text = f"Empty: the usual {usual} minutes of such a job."
        self.fields["travel_minor"] = MoneyField(
            currency=currency, label="Travel", required=False, initial=0
        )

    def facts(self) -> dict[str, Any]:
        return self.cleaned_data | {"travel_minor": self.cleaned_data["travel_minor"] or 0}
