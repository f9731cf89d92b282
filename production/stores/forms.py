"""Forms of the stores."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator

from production.stock import quantities
from production.stock.models import Lot, Material, Purchase
from production.stores.actions import Counted
from production.stores.stock_status import StockStatus
from studio import units
from studio.accounts.models import Unit
from studio.jobs.models import Job
from studio.roles import Role
from studio.web.fields import MoneyField
from studio.web.forms import DateInput, EditForm, HiddenInput, KeyedForm


class AmountField(forms.CharField):
    """A quantity with its unit: "12.5 kg", "2 packs"; its value is in base units."""

    def __init__(self, material: Material, *, packs: bool = True, **kwargs: Any) -> None:
        self.material, self.pack = material, material.pack if packs else 0
        also = " or 2 packs" if packs else ""
        kwargs.setdefault("help_text", f"Like {quantities.example(material.measure)}{also}.")
        super().__init__(
            widget=forms.TextInput(attrs={"autocomplete": "off"}),
            error_messages={"required": "Write how much."},
            **kwargs,
        )

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        if not text:
            return None
        try:
            return quantities.parse(text, self.material.measure, self.pack)
        except ValueError as unreadable:
            raise forms.ValidationError(str(unreadable)) from None

    def prepare_value(self, value: Any) -> Any:
        return (
            quantities.input_value(value, self.material.measure)
            if isinstance(value, int)
            else value
        )


class JobChoice(forms.ModelChoiceField[Job]):
    def label_from_instance(self, obj: Job) -> str:
        return f"{obj.display_reference}, {obj.first_names} {obj.family.name}"


class PurchaseChoice(forms.ModelChoiceField[Purchase]):
    def label_from_instance(self, obj: Purchase) -> str:
        return f"{obj.material.say(obj.to_come)} ordered on {units.full_day(obj.ordered_on)}"


class MaterialForm(EditForm, forms.ModelForm["Material"]):
    """A material: what it is, how it is used up, and how it is bought."""

    used_each = forms.CharField(
        label="How much each time",
        required=False,
        help_text="With its unit, like 900 g, 1.3 m or 2 pieces. A pour takes what was weighed.",
    )
    pack = forms.CharField(
        label="Size of a pack", help_text="With its unit, like 25 kg, 3 m, 0.75 m² or 20 pieces."
    )

    class Meta:
        model = Material
        fields = [
            "kind",
            "name",
            "measure",
            "used_at",
            "used_each",
            "plaster",
            "returns_percent",
            "most_uses",
            "keep_days",
            "pack",
            "pack_words",
            "supplier",
            "supplier_code",
            "lead_days",
            "cover_days",
            "service_percent",
        ]
        help_texts = {
            "plaster": "Only for plaster: which of yours it is. None: it is taken for any pour.",
            "returns_percent": "Only for clay: how much of a print goes back into the bin.",
            "most_uses": "Only for clay: after so many prints it is turned out.",
            "keep_days": "From the day it came. A lot older than that is pointed out.",
            "cover_days": "How long an order should last.",
        }

    def __init__(self, unit: Unit, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        plasters = unit.plasters.filter(retired_at=None)
        self.fields["plaster"].queryset = plasters  # type: ignore[attr-defined]
        if not plasters:
            del self.fields["plaster"]
        if self.instance.pk:
            for name in ("used_each", "pack"):
                kept = getattr(self.instance, name)
                self.initial[name] = (
                    quantities.input_value(kept, self.instance.measure) if kept else ""
                )
        for name, low, high in (
            ("returns_percent", 0, 100),
            ("lead_days", 0, 365),
            ("cover_days", 1, 365),
            ("service_percent", 50, 99),
        ):
            field = self.fields[name]
            field.min_value, field.max_value = low, high  # type: ignore[attr-defined]
            field.validators += [
                MinValueValidator(low, f"At least {low}."),
                MaxValueValidator(high, f"At most {high}."),
            ]

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        if measure := facts.get("measure"):
            self._read_amounts(facts, measure)
        self._refuse_nonsense(facts)
        return facts

    def _read_amounts(self, facts: dict[str, Any], measure: str) -> None:
        for name in ("used_each", "pack"):
            text = facts.get(name)
            if name in self.errors:
                continue
            try:
                facts[name] = quantities.parse(text, measure) if text else 0
            except ValueError as unreadable:
                self.add_error(name, str(unreadable))

    def _refuse_nonsense(self, facts: Mapping[str, Any]) -> None:
        used_at, UsedAt = facts.get("used_at"), Material.UsedAt  # noqa: N806 - the model's own name
        poured = used_at == UsedAt.POUR
        is_plaster = facts.get("kind") == Material.Kind.PLASTER and facts.get("measure") == "g"
        if poured and not is_plaster:
            self.add_error("used_at", "A pour takes plaster, counted in grams.")
        if not poured and facts.get("plaster"):
            self.add_error("plaster", "Only what pours take is one of your plasters.")
        if used_at not in (UsedAt.POUR, UsedAt.HAND) and facts.get("used_each") == 0:
            self.add_error("used_each", "Write how much goes each time.")
        if facts.get("returns_percent") and used_at != UsedAt.PRINT:
            self.add_error("returns_percent", "Only what a print takes comes back.")
        if facts.get("pack") == 0:
            self.add_error("pack", "A pack holds something.")


class ReceiveForm(KeyedForm):
    """A delivery; only the owner is asked for its cost."""

    def __init__(self, material: Material, role: Role, *args: Any, today: date, **kw: Any) -> None:
        super().__init__(*args, **kw)
        self.today = today
        on_their_way = material.purchases.on_their_way().select_related("material")
        fields = self.fields
        fields["quantity"] = AmountField(material, label="How much came")
        if role == Role.OWNER:
            fields["cost_minor"] = MoneyField(
                currency=material.unit.currency,
                label="What it cost",
                required=False,
                help_text="All of it, as paid. Left empty it is taken from the order, or the last lot.",
            )
        if on_their_way:
            fields["purchase"] = PurchaseChoice(
                on_their_way,
                label="Of which order",
                required=False,
                empty_label="of none",
                initial=on_their_way[0],
            )
        fields["received_on"] = forms.DateField(
            label="Received on", widget=DateInput(), initial=today
        )
        fields["best_before"] = forms.DateField(
            label="Best before",
            widget=DateInput(),
            required=False,
            initial=today + timedelta(days=material.keep_days) if material.keep_days else None,
        )
        fields["label"] = forms.CharField(
            label="Batch, or where it stands", max_length=60, required=False
        )

    def clean_received_on(self) -> date:
        on: date = self.cleaned_data["received_on"]
        if on > self.today:
            raise forms.ValidationError("This day is still to come.")
        return on


class UseForm(KeyedForm):
    """A use that no step of the bench records."""

    def __init__(self, material: Material, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["quantity"] = AmountField(material, label="How much was used")
        jobs = material.unit.jobs.open().soonest_first().with_people()
        self.fields["job"] = JobChoice(
            jobs, label="For which job", required=False, empty_label="for no job: for the studio"
        )
        self.fields["why"] = forms.CharField(label="What for", max_length=200, required=False)


class WriteOffForm(KeyedForm):
    what = forms.ChoiceField(
        label="What becomes of it",
        choices=[("scrapped", "It is thrown away"), ("sent_back", "It is sent back")],
        widget=forms.RadioSelect,
    )
    why = forms.CharField(label="Why", max_length=200)

    def __init__(self, lot: Lot, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["quantity"] = AmountField(lot.material, label="How much", initial=lot.left)
        self.order_fields(["quantity", "what", "why"])


class AdjustForm(KeyedForm):
    seen = forms.IntegerField(widget=HiddenInput)
    why = forms.CharField(label="What was wrong in the books", max_length=200)

    def __init__(self, lot: Lot, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["left"] = AmountField(
            lot.material, label="What is really there", initial=lot.left
        )
        self.fields["seen"].initial = lot.left
        self.order_fields(["left", "why"])


class CostForm(KeyedForm):
    seen_minor = forms.IntegerField(widget=HiddenInput)
    why = forms.CharField(label="Where the other cost comes from", max_length=200)

    def __init__(self, lot: Lot, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["cost_minor"] = MoneyField(
            currency=lot.material.unit.currency,
            label="What the whole lot cost",
            initial=lot.cost_minor,
        )
        self.fields["seen_minor"].initial = lot.cost_minor
        self.order_fields(["cost_minor", "why"])


class OrderForm(KeyedForm):
    """A purchase, filled in as proposed by the stock forecast."""

    def __init__(self, standing: StockStatus, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        material, today = standing.material, standing.today
        quantity = standing.outlook.quantity or material.pack
        self.fields["quantity"] = AmountField(
            material, label="How much was ordered", initial=quantity
        )
        self.fields["cost_minor"] = MoneyField(
            currency=material.unit.currency,
            label="What it will cost",
            initial=standing.likely_cost_minor(quantity),
        )
        self.fields["ordered_on"] = forms.DateField(
            label="Ordered on", widget=DateInput(), initial=today
        )
        self.fields["expected_on"] = forms.DateField(
            label="Expected on",
            widget=DateInput(),
            initial=today + timedelta(days=material.lead_days),
        )

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        ordered_on, expected_on = facts.get("ordered_on"), facts.get("expected_on")
        if ordered_on and expected_on and expected_on < ordered_on:
            self.add_error("expected_on", "It cannot come before it was ordered.")
        return facts


class CountForm(KeyedForm):
    """A stocktake: a field for each material, empty if not counted.

    `sure` is sent by the second press, after the differences were shown.
    """

    sure = forms.BooleanField(required=False, widget=HiddenInput)

    def __init__(self, standing: Sequence[StockStatus], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.standing = list(standing)
        for each in self.standing:
            pk = each.material.pk
            self.fields[f"count_{pk}"] = AmountField(
                each.material, label=each.material.name, required=False, help_text=""
            )
            self.fields[f"seen_{pk}"] = forms.IntegerField(
                widget=HiddenInput, initial=each.stock, required=False
            )

    @property
    def rows(self) -> list[dict[str, Any]]:
        """Material, field and shown stock of each row."""
        return [
            {
                "shelved": each,
                "field": self[f"count_{each.material.pk}"],
                "seen": self[f"seen_{each.material.pk}"],
            }
            for each in self.standing
        ]

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        if not self.errors and not self.counts:
            self.add_error(None, "Write at least one count.")
        return facts

    @property
    def counts(self) -> list[Counted]:
        """The counted quantities, each with the stock shown when the page was made."""
        return [
            Counted(each.material, quantity, self._seen(each))
            for each in self.standing
            if (quantity := self.cleaned_data.get(f"count_{each.material.pk}")) is not None
        ]

    @property
    def is_settled(self) -> bool:
        """Whether it can be saved: nothing differs, or the differences were confirmed."""
        return self.is_bound and self.is_valid() and not self.to_confirm

    @property
    def to_confirm(self) -> list[dict[str, Any]]:
        """Differences that the person has not confirmed yet."""
        if not self.is_bound or not self.is_valid() or self.cleaned_data["sure"]:
            return []
        return self.differences

    @property
    def differences(self) -> list[dict[str, Any]]:
        """Differences between count and books, formatted."""
        return [
            {
                "name": count.material.name,
                "books": count.material.say(count.seen),
                "counted": count.material.say(count.quantity),
                "difference": count.material.say(abs(count.quantity - count.seen)),
                "is_less": count.quantity < count.seen,
            }
            for count in self.counts
            if count.quantity != count.seen
        ]

    def show_again(self) -> None:
        """Replace the shown stock by the current one and ask for confirmation again."""
        now = {f"seen_{each.material.pk}": str(each.stock) for each in self.standing}
        self.data = {**dict(self.data.items()), **now, "sure": ""}

    def _seen(self, each: StockStatus) -> int:
        seen = self.cleaned_data.get(f"seen_{each.material.pk}")
        return each.stock if seen is None else seen
