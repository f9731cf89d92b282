"""Actions on the unit and its people, and the lock of the unit that other actions take."""

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from studio.accounts.models import Membership, Unit, User
from studio.roles import Role
from studio.stages import ActionRefused
from studio.versions import save_edited


def lock_unit(unit: Unit) -> Unit:
    """Re-read a unit and lock its row until the end of the transaction; call inside one.

    Always before locking a job: otherwise two transactions that need both may deadlock. Adding
    rows that refer to the unit is not blocked.
    """
    return Unit.objects.select_for_update(no_key=True).get(pk=unit.pk)


@transaction.atomic
def set_up_unit(
    *, email: str, password: str, owner_name: str, unit_facts: Mapping[str, Any]
) -> Membership:
    """Create the first owner and unit. Raises ActionRefused if a unit exists."""
    if Unit.objects.exists():
        raise ActionRefused("This Caststead is already set up: log in instead.")
    owner = User.objects.create_user(email, password, name=owner_name)
    unit = Unit.objects.create(**unit_facts)
    return Membership.objects.create(user=owner, unit=unit, role=Role.OWNER)


@transaction.atomic
def add_person(unit: Unit, *, email: str, name: str, password: str, role: Role) -> Membership:
    """Create a log-in to the unit for a person. Raises ActionRefused if the e-mail address is in use."""
    if User.objects.filter(email=email.lower()).exists():
        raise ActionRefused(f"Somebody already logs in as {email}.")
    user = User.objects.create_user(email, password, name=name)
    return Membership.objects.create(user=user, unit=unit, role=role)


def edit_unit(unit: Unit, *, facts: Mapping[str, Any], seen_version: int) -> None:
    """Save an edited unit. Raises EditedMeanwhile if somebody else saved it after `seen_version`."""
    save_edited(unit, facts, seen_version=seen_version)
