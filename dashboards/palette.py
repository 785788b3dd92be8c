"""Colours, mark shapes and words of the screens; each cause family has all three, always together.

The colours are this project's own. They were searched for by the least colour difference
(CIEDE2000) of any pair as seen by people with full colour vision, protanopia, deuteranopia and
tritanopia, among colours with at least 3:1 contrast on every ground that a mark can lie on. A test
holds both.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from eventlab.schema import Cause


class Theme(StrEnum):
    """The two schemes of light."""

    LIGHT = "light"
    DARK = "dark"


@dataclass(frozen=True, slots=True)
class Family:
    """One family of causes, or life safety, which has none.

    Parameters
    ----------
    key : str
        How the address and the style sheet name it.
    word : str
        How the screens name it.
    symbol : str
        The mark shape in plots; the style sheet draws the same for ``key``.
    colour : mapping of Theme to str
        One colour for each scheme, ``#rrggbb``.
    causes : tuple of Cause
        The causes it stands for.
    """

    key: str
    word: str
    symbol: str
    colour: Mapping[Theme, str]
    causes: tuple[Cause, ...]


def _both(light: str, dark: str) -> Mapping[Theme, str]:
    return {Theme.LIGHT: light, Theme.DARK: dark}


LIFE_SAFETY = Family("life-safety", "life safety", "star", _both("#14201e", "#f2f6f3"), ())
UNEXPLAINED = Family(
    "unexplained",
    "not explained",
    "circle-open",
    _both("#5f6b69", "#98a5a1"),
    (Cause.UNEXPLAINED,),
)

FAMILIES: tuple[Family, ...] = (
    LIFE_SAFETY,
    Family("intrusion", "possible intrusion", "x", _both("#b11200", "#ef2e12"), (Cause.INTRUSION,)),
    Family(
        "people",
        "people coming or going",
        "triangle-up",
        _both("#496ebf", "#4185c6"),
        (Cause.PERSON_ENTERING, Cause.PERSON_LEAVING),
    ),
    Family(
        "surroundings",
        "surroundings",
        "circle",
        _both("#ac7500", "#fdac08"),
        (Cause.ENVIRONMENT,),
    ),
    Family("device", "the device itself", "square", _both("#810074", "#d8b3f3"), (Cause.DETECTOR,)),
    Family(
        "supply",
        "power or signalling",
        "diamond",
        _both("#0d513c", "#8defa3"),
        (Cause.POWER, Cause.RADIO, Cause.PATH),
    ),
    Family("service", "service work", "cross", _both("#7e7f5d", "#888162"), (Cause.SERVICE,)),
    UNEXPLAINED,
)
"""In the order of the legend; life safety is a mark and a word of its own, never a cause."""

BY_KEY: Mapping[str, Family] = {family.key: family for family in FAMILIES}
FAMILY_OF: Mapping[str, str] = {
    str(cause): family.key for family in FAMILIES for cause in family.causes
}


@dataclass(frozen=True, slots=True)
class Tones:
    """The neutral tones and the one accent of a scheme, ``#rrggbb``.

    ``armed``, ``part`` and ``aside`` are the shades that marks lie on.
    """

    ground: str
    raised: str
    sunken: str
    line: str
    control: str
    ink: str
    quiet: str
    accent: str
    on_accent: str
    armed: str
    part: str
    aside: str
    hatch: str
    gap: str
    sun: str


TONES: Mapping[Theme, Tones] = {
    Theme.LIGHT: Tones(
        ground="#f6f7f2",
        raised="#ffffff",
        sunken="#eceee7",
        line="#d5dad2",
        control="#7a8682",
        ink="#14201e",
        quiet="#4a5754",
        accent="#0b5d66",
        on_accent="#ffffff",
        armed="#dbe7e6",
        part="#edf3f2",
        aside="#ebe5d6",
        hatch="#b3a989",
        gap="#7d8884",
        sun="#a5722a",
    ),
    Theme.DARK: Tones(
        ground="#0f1615",
        raised="#17201e",
        sunken="#0b1110",
        line="#2d3936",
        control="#74827e",
        ink="#f2f6f3",
        quiet="#aebab5",
        accent="#7cd0d6",
        on_accent="#08201f",
        armed="#21332f",
        part="#1b2826",
        aside="#332f22",
        hatch="#6f6648",
        gap="#66736f",
        sun="#b98f4d",
    ),
}


def style_sheet() -> str:
    """Write the tones and colours as CSS variables, so that they stand in one place only.

    Returns
    -------
    str
        Rules for both schemes; ``data-theme`` on the root element chooses one.
    """
    return "".join(
        f':root[data-theme="{theme}"]{{color-scheme:{theme};{_variables(theme)}}}'
        for theme in Theme
    )


def _variables(theme: Theme) -> str:
    tones = TONES[theme]
    named = {name: getattr(tones, name) for name in Tones.__slots__}
    named |= {f"family-{family.key}": family.colour[theme] for family in FAMILIES}
    return "".join(f"--{name.replace('_', '-')}:{value};" for name, value in named.items())
