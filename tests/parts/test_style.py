"""The style sheets: colours that can be read, and the rules that keep them one family."""

import re
from pathlib import Path

import pytest
from django.conf import settings

CSS = Path(settings.BASE_DIR) / "static" / "css"
TEXT = ("slate", "graphite", "oak", "oak-deep", "clay", "moss", "tide")
GROUNDS = ("plaster", "sheet", "oak-wash", "clay-wash", "moss-wash", "tide-wash")
ON = (("on-oak", "oak"), ("on-oak", "oak-deep"), ("on-clay", "clay"))


def read(name):
    return (CSS / name).read_text(encoding="utf-8")


def scheme(name):
    light, dark = read("tokens.css").split("prefers-color-scheme: dark")
    return dict(re.findall(r"--([\w-]+): (#[0-9A-F]{6});", light if name == "light" else dark))


def luminance(colour):
    """Relative luminance of #RRGGBB, 0 to 1. Source: WCAG 2.2, "relative luminance" [std]."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    """Contrast of two colours, 1 to 21. Source: WCAG 2.2, "contrast ratio" [std]."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_of_known_pairs():
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    # [mem] the well-known near miss
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("ink", TEXT)
@pytest.mark.parametrize("name", ["light", "dark"])
def test_text_can_be_read(name, ink, ground):
    colours = scheme(name)
    assert contrast(colours[ink], colours[ground]) >= 4.5


@pytest.mark.parametrize(("ink", "ground"), ON)
@pytest.mark.parametrize("name", ["light", "dark"])
def test_a_button_can_be_read(name, ink, ground):
    colours = scheme(name)
    assert contrast(colours[ink], colours[ground]) >= 4.5


@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("name", ["light", "dark"])
def test_the_edge_of_what_can_be_used_is_seen(name, ground):
    colours = scheme(name)
    assert contrast(colours["edge"], colours[ground]) >= 3


def test_the_dark_scheme_answers_every_colour_but_those_of_things():
    wanted = {name for name in scheme("light") if not name.startswith("true-")}
    assert scheme("dark").keys() == wanted


def test_the_first_line_fixes_the_layers():
    first = read("tokens.css").splitlines()[0]
    assert first == "@layer reset, tokens, base, parts, pages, print;"


@pytest.mark.parametrize("name", sorted(path.name for path in CSS.glob("*.css")))
def test_one_sheet_keeps_the_rules(name):
    rules = re.sub(r"/\*.*?\*/", "", read(name), flags=re.DOTALL)
    assert "!important" not in rules
    assert "@import" not in rules
    assert "color-mix(" not in rules, "the printer drops it"
    if name not in ("tokens.css", "paper.css"):
        assert re.findall(r"#[0-9A-Fa-f]{3,8}\b", rules) == [], "colours are named in tokens.css"
    unknown = set(re.findall(r"var\(--([\w-]+)\)", rules)) - set(
        re.findall(r"--([\w-]+):", rules + read("tokens.css"))
    )
    assert unknown == set()


def test_a_colour_of_paper_is_true_black_white_or_a_hairline_grey():
    colours = set(re.findall(r"#[0-9A-Fa-f]{6}", read("paper.css")))
    assert colours == {"#000000", "#FFFFFF", "#808080"}
