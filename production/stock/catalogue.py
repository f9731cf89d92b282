"""What a cast studio usually keeps, to begin with: sizes as they are commonly sold [trade].

How much goes each time is a beginning for one framed pair, to be changed by the owner: a print of 900 g
of clay of which a twentieth sticks; a frame by the rule of sides and eight widths; one glass, one
backing and its board of about a foot square.
"""

from typing import Any

USUAL_MATERIALS: tuple[dict[str, Any], ...] = (
    {
        "kind": "clay",
        "name": "Modelling clay",
        "measure": "g",
        "used_at": "print",
        "used_each": 900,
        "returns_percent": 95,
        "most_uses": 8,
        "keep_days": 365,
        "pack": 12_500,
        "pack_words": "bag",
    },
    {
        "kind": "plaster",
        "name": "Fine casting plaster",
        "measure": "g",
        "used_at": "pour",
        "keep_days": 180,
        "pack": 25_000,
        "pack_words": "sack",
    },
    {
        "kind": "moulding",
        "name": "Oak moulding",
        "measure": "mm",
        "used_at": "frame",
        "used_each": 1400,
        "pack": 9000,
        "pack_words": "bundle",
        "lead_days": 10,
    },
    {
        "kind": "board",
        "name": "Backing board",
        "measure": "mm2",
        "used_at": "frame",
        "used_each": 90_000,
        "pack": 2_976_800,
        "pack_words": "sheet",
        "lead_days": 7,
    },
    {
        "kind": "board",
        "name": "Mount board",
        "measure": "mm2",
        "used_at": "frame",
        "used_each": 90_000,
        "pack": 912_800,
        "pack_words": "sheet",
        "lead_days": 7,
    },
    {
        "kind": "glazing",
        "name": "Float glass, 2 mm",
        "measure": "mm2",
        "used_at": "glazed",
        "used_each": 90_000,
        "pack": 750_000,
        "pack_words": "sheet",
        "lead_days": 7,
    },
    {
        "kind": "fixing",
        "name": "Hangers with screws",
        "measure": "piece",
        "used_at": "frame",
        "used_each": 2,
        "pack": 50,
        "pack_words": "box",
    },
    {
        "kind": "fixing",
        "name": "Sealing tape",
        "measure": "mm",
        "used_at": "frame",
        "used_each": 1400,
        "pack": 50_000,
        "pack_words": "roll",
    },
    {
        "kind": "finish",
        "name": "Clear wax",
        "measure": "g",
        "used_at": "frame",
        "used_each": 12,
        "pack": 400,
        "pack_words": "tin",
    },
    {
        "kind": "packaging",
        "name": "Gift carton",
        "measure": "piece",
        "used_at": "home",
        "used_each": 1,
        "pack": 20,
        "pack_words": "bundle",
        "lead_days": 6,
    },
)
