"""A quantity of a material as people read it."""

from typing import TYPE_CHECKING

from django import template

if TYPE_CHECKING:
    from production.stock.models import Material

register = template.Library()


@register.filter
def amount(quantity: int, material: "Material") -> str:
    """`{{ line.quantity|amount:material }}`: "-269 g", "12.50 kg"."""
    return material.say(quantity)
