"""Bank statements and their lines of incoming money."""

from django.db import models
from django.db.models import Q
from django.urls import reverse

from orders.bank.querysets import StatementLineQuerySet
from orders.payments.models import Payment
from studio.accounts.models import Unit, User


class BankColumns(models.Model):
    """The columns of one bank's CSV, stored once for each set of headings."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="bank_columns")
    headings = models.JSONField()
    booked_on = models.CharField(max_length=80)
    words = models.CharField(max_length=80)
    amount = models.CharField(max_length=80, blank=True)
    money_in = models.CharField(max_length=80, blank=True)
    money_out = models.CharField(max_length=80, blank=True)
    name = models.CharField(max_length=80, blank=True)
    date_form = models.CharField(max_length=20)

    class Meta:
        verbose_name_plural = "bank columns"
        constraints = [
            models.UniqueConstraint(fields=["unit", "headings"], name="bank_columns_once"),
            models.CheckConstraint(
                condition=~Q(amount="") | ~Q(money_in=""), name="bank_columns_have_an_amount"
            ),
        ]

    def __str__(self) -> str:
        return ", ".join(self.headings)


class Statement(models.Model):
    """One uploaded file of a bank. Its bytes are stored until it is read, then only its digest."""

    class State(models.TextChoices):
        WAITING = "waiting", "waits to be read"
        READ = "read", "read"
        UNREADABLE = "unreadable", "could not be read"

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="statements")
    name = models.CharField("file", max_length=120)
    digest = models.CharField(max_length=64)
    data = models.BinaryField(null=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    error = models.CharField(max_length=300, blank=True)
    taken_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    # Numbers of lines in the file: incoming, new among these, and outgoing.
    came_in = models.PositiveIntegerField(default=0)
    new = models.PositiveIntegerField(default=0)
    went_out = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["-taken_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "digest"], name="statement_once"),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("orders:statement", args=[self.pk])


class StatementLine(models.Model):
    """Incoming money on the bank account, until it is posted as a payment or set aside."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="statement_lines")
    statement = models.ForeignKey(Statement, on_delete=models.PROTECT, related_name="lines")
    fingerprint = models.CharField(max_length=64)
    booked_on = models.DateField()
    amount_minor = models.PositiveIntegerField()
    words = models.CharField(max_length=300, blank=True)
    name = models.CharField(max_length=140, blank=True)
    payment = models.OneToOneField(
        Payment, on_delete=models.PROTECT, null=True, blank=True, related_name="bank_line"
    )
    set_aside_why = models.CharField("no payment of a family, because", max_length=200, blank=True)

    objects = StatementLineQuerySet.as_manager()

    class Meta:
        ordering = ["-booked_on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "fingerprint"], name="statement_line_once"),
            models.CheckConstraint(
                condition=Q(payment=None) | Q(set_aside_why=""),
                name="statement_line_posted_or_set_aside",
            ),
            models.CheckConstraint(condition=Q(amount_minor__gt=0), name="statement_line_came_in"),
        ]
        indexes = [
            models.Index(
                fields=["unit", "-booked_on"],
                name="statement_line_waiting",
                condition=Q(payment=None, set_aside_why=""),
            )
        ]

    def __str__(self) -> str:
        return f"{self.booked_on}: {self.name or self.words}"
