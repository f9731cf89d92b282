"""Add and edit families and their children."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.db import transaction

from studio.accounts.models import Unit
from studio.families.models import Child, Family
from studio.versions import save_edited


@transaction.atomic
def add_family(
    unit: Unit, *, facts: Mapping[str, Any], children: Iterable[Mapping[str, Any]] = ()
) -> Family:
    """Add a family with its children; `facts` and each of `children` are fields of Family and Child by name."""
    family = unit.families.create(**facts)
    for child in children:
        family.children.create(**child)
    return family


def edit_family(family: Family, *, facts: Mapping[str, Any], seen_version: int) -> None:
    """Save an edited family. Raises EditedMeanwhile if somebody else saved it after `seen_version`."""
    save_edited(family, facts, seen_version=seen_version)


def add_child(family: Family, *, facts: Mapping[str, Any]) -> Child:
    """Add a child to a family; `facts` are fields of Child by name."""
    return family.children.create(**facts)


def edit_child(child: Child, *, facts: Mapping[str, Any], seen_version: int) -> None:
    """Save an edited child. Raises EditedMeanwhile if somebody else saved it after `seen_version`."""
    save_edited(child, facts, seen_version=seen_version)
