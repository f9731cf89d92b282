"""Forms for bank statements and their lines."""

from typing import Any

from django import forms

from orders.bank import bank_files
from orders.bank.models import BankColumns
from studio.web.forms import KeyedForm, StudioForm


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
    """The column of a bank's CSV for each field of a line."""

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
    """The reference of the job to post a line to."""

    reference = forms.CharField(label="Job", max_length=12)


class SetAsideForm(StudioForm):
    why = forms.CharField(
        label="What it is instead",
        max_length=200,
        error_messages={"required": "Write what it is instead."},
    )
