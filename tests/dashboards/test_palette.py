"""Each cause family has a colour, a shape and a word; the colours hold for every eye."""

from itertools import combinations

import numpy as np
import pytest

from dashboards.palette import FAMILIES, FAMILY_OF, LIFE_SAFETY, TONES, Theme, style_sheet
from eventlab.schema import Cause

# Simulated colour vision at severity 1.0: Machado, Oliveira, Fernandes (2009), "A physiologically-
# based model for simulation of color vision deficiency", IEEE TVCG 15(6), table 1; on linear RGB.
VISIONS = {
    "full colour vision": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritanopia": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
APART = 11.0
"""CIEDE2000 between any two families: about five times what is just seen side by side (2.3, Mahy et
al. 1994, from memory), because marks are small and stand apart; shape and word come on top."""


def linear(colour):
    rgb = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)


def luminance(colour):
    return float(linear(colour) @ [0.2126, 0.7152, 0.0722])


def contrast(one, other):
    """Contrast ratio of WCAG 2.2, relative luminance."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def lab(rgb):
    """CIE 1976 L*a*b* under D65 from linear sRGB (IEC 61966-2-1)."""
    to_xyz = np.array(
        [
            [0.4124564, 0.3575761, 0.1804375],
            [0.2126729, 0.7151522, 0.0721750],
            [0.0193339, 0.1191920, 0.9503041],
        ]
    )
    xyz = to_xyz @ np.clip(rgb, 0, 1) / [0.95047, 1.0, 1.08883]
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return 116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])


def ciede2000(one, other):
    """Sharma, Wu, Dalal (2005), Color Research & Application 30(1), equations 2 to 22."""
    (l1, a1, b1), (l2, a2, b2) = one, other
    mean = (np.hypot(a1, b1) + np.hypot(a2, b2)) / 2
    g = 0.5 * (1 - np.sqrt(mean**7 / (mean**7 + 25**7)))
    a1, a2 = a1 * (1 + g), a2 * (1 + g)
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360, np.degrees(np.arctan2(b2, a2)) % 360
    turn = 0.0 if c1 * c2 == 0 else (h2 - h1 + 180) % 360 - 180
    dl, dc = l2 - l1, c2 - c1
    dh = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn) / 2)
    lm, cm = (l1 + l2) / 2, (c1 + c2) / 2
    hm = h1 + h2 if c1 * c2 == 0 else (h1 + turn / 2) % 360
    t = (
        1
        - 0.17 * np.cos(np.radians(hm - 30))
        + 0.24 * np.cos(np.radians(2 * hm))
        + 0.32 * np.cos(np.radians(3 * hm + 6))
        - 0.20 * np.cos(np.radians(4 * hm - 63))
    )
    sl = 1 + 0.015 * (lm - 50) ** 2 / np.sqrt(20 + (lm - 50) ** 2)
    sc, sh = 1 + 0.045 * cm, 1 + 0.015 * cm * t
    rt = -np.sin(np.radians(60 * np.exp(-(((hm - 275) / 25) ** 2)))) * 2
    rt *= np.sqrt(cm**7 / (cm**7 + 25**7))
    return np.sqrt((dl / sl) ** 2 + (dc / sc) ** 2 + (dh / sh) ** 2 + rt * (dc / sc) * (dh / sh))


@pytest.mark.parametrize(
    ("one", "other", "apart"),
    [
        # Pairs 1, 7, 17 and 25 of the published test data of Sharma, Wu, Dalal (2005), table 1.
        ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
        ((50.0, 0.0, 0.0), (50.0, -1.0, 2.0), 2.3669),
        ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
        ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ],
)
def test_the_measure_of_difference_is_the_published_one(one, other, apart):
    assert ciede2000(one, other) == pytest.approx(apart, abs=1e-4)


@pytest.mark.parametrize("theme", Theme)
@pytest.mark.parametrize("vision", VISIONS)
def test_no_two_families_look_alike_to_any_eye(theme, vision):
    seen = {f.key: lab(VISIONS[vision] @ linear(f.colour[theme])) for f in FAMILIES}
    close = {
        pair: round(float(ciede2000(seen[pair[0]], seen[pair[1]])), 1)
        for pair in combinations(seen, 2)
        if ciede2000(seen[pair[0]], seen[pair[1]]) < APART
    }
    assert close == {}


@pytest.mark.parametrize("theme", Theme)
@pytest.mark.parametrize("ground", ["ground", "raised", "sunken", "armed", "part", "aside"])
def test_marks_stand_out_from_every_ground(theme, ground):
    """WCAG 2.2, 1.4.11: graphical objects at 3:1."""
    on = getattr(TONES[theme], ground)
    low = {f.key: contrast(f.colour[theme], on) for f in FAMILIES}
    assert {key: round(c, 2) for key, c in low.items() if c < 3} == {}


@pytest.mark.parametrize("theme", Theme)
@pytest.mark.parametrize("ground", ["ground", "raised", "sunken", "armed", "aside"])
@pytest.mark.parametrize("text", ["ink", "quiet", "accent"])
def test_text_can_be_read_on_every_ground(theme, ground, text):
    """WCAG 2.2, 1.4.3: text at 4.5:1; plots too, which axe cannot judge."""
    tones = TONES[theme]
    assert contrast(getattr(tones, text), getattr(tones, ground)) >= 4.5


@pytest.mark.parametrize("theme", Theme)
def test_fields_and_lines_can_be_seen(theme):
    tones = TONES[theme]
    assert contrast(tones.control, tones.ground) >= 3
    assert contrast(tones.control, tones.raised) >= 3
    assert contrast(tones.on_accent, tones.accent) >= 4.5
    assert contrast(tones.gap, tones.ground) >= 3
    assert all(contrast(tones.sun, on) >= 3 for on in (tones.ground, tones.armed, tones.raised))


def test_each_cause_has_one_family_and_each_family_its_own_shape_and_word():
    assert set(FAMILY_OF) == {str(cause) for cause in Cause}
    assert len({f.symbol for f in FAMILIES}) == len({f.word for f in FAMILIES}) == len(FAMILIES)


def test_life_safety_is_no_cause():
    assert LIFE_SAFETY.causes == ()
    assert LIFE_SAFETY.key not in FAMILY_OF.values()


def test_the_style_sheet_carries_every_colour_in_both_schemes():
    told = style_sheet()
    for theme in Theme:
        assert f'[data-theme="{theme}"]' in told
        for family in FAMILIES:
            assert f"--family-{family.key}:{family.colour[theme]}" in told
