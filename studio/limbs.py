"""The four limbs and the orders in which a studio takes their prints."""

from itertools import permutations

from django.db import models
from django.utils.translation import gettext_noop


class Limb(models.TextChoices):
    LEFT_HAND = "left_hand", gettext_noop("left hand")
    RIGHT_HAND = "right_hand", gettext_noop("right hand")
    LEFT_FOOT = "left_foot", gettext_noop("left foot")
    RIGHT_FOOT = "right_foot", gettext_noop("right foot")

    @property
    def kind(self) -> str:
        """ "hand" or "foot"."""
        return self.value.rsplit("_", 1)[1]


# Every order in which four limbs can be taken: the valid values of `Unit.limb_order`.
LIMB_ORDERS = [",".join(limbs) for limbs in permutations(Limb.values)]


def format_limbs(order: str) -> str:
    """Format an order of limbs (values of Limb, separated by commas): "left hand, right hand, …"."""
    return ", ".join(Limb(value).label for value in order.split(","))
