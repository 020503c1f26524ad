"""The reliability diagram as an SVG picture: said against came, with counts."""

from __future__ import annotations

from collections.abc import Sequence
from xml.sax.saxutils import escape

from trackday.scoring.rain_score import Tenth

WIDTH, HEIGHT = 480, 560
"""Size of the picture, px."""

_LEFT, _TOP, _SIDE = 70.0, 50.0, 380.0
"""Left and upper edge and length of a side of the square, px."""

_BARS_TOP, _BARS_HEIGHT = 478.0, 50.0
"""Upper edge and height of the bars of the counts, px."""

_RADIUS = 5.0


def reliability_svg(tenths: Sequence[Tenth], *, title: str) -> str:
    """Draw a reliability table: a dot a tenth, its range as a line, the diagonal, counts as bars.

    Dots on the diagonal came true as often as was said. Black on white; needs no color, no font and
    no script. `title` is shown above and read aloud, together with the table in words.
    """
    opening = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{HEIGHT}" '
        f'viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-labelledby="title desc" '
        'font-family="sans-serif" font-size="12">'
    )
    parts = [
        opening,
        f'<title id="title">{escape(title)}</title>',
        f'<desc id="desc">{escape(_in_words(tenths))}</desc>',
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>',
        f'<text x="{_LEFT:g}" y="28" font-size="{_title_size(title):.1f}">{escape(title)}</text>',
        *_axes(),
        *(part for tenth in tenths for part in _dot(tenth)),
        *_bars(tenths),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _title_size(title: str) -> float:
    """Height of the title's letters, px: small enough for a long name to fit above the square."""
    return min(15.0, _SIDE / (0.6 * max(1, len(title))))


def _in_words(tenths: Sequence[Tenth]) -> str:
    """The table as sentences, for those who hear the picture."""
    if not tenths:
        return "No look could be judged."
    return " ".join(
        f"Said {100 * each.mean_chance:.0f} % on average: it rained in {round(each.came, 1):g} of "
        f"{each.looks} looks."
        for each in tenths
    )


def _axes() -> list[str]:
    right, bottom = _LEFT + _SIDE, _TOP + _SIDE
    middle = _SIDE / 2
    marks = [part for percent in range(0, 101, 20) for part in _mark(percent)]
    turned = f'transform="translate(20 {_TOP + middle:g}) rotate(-90)"'
    return [
        _box(_LEFT, _TOP, _SIDE, _SIDE, fill="none"),
        f'<path d="M{_LEFT:g} {bottom:g}L{right:g} {_TOP:g}" stroke="#000" stroke-dasharray="4"/>',
        *marks,
        _label(_LEFT + middle, bottom + 36, "said"),
        f'<text {turned} text-anchor="middle">it rained in</text>',
    ]


def _mark(percent: int) -> list[str]:
    """A stroke and a number on either axis."""
    x, y, bottom = _x(percent / 100), _y(percent / 100), _TOP + _SIDE
    return [
        f'<path d="M{x:g} {bottom:g}v5M{_LEFT:g} {y:g}h-5" stroke="#000"/>',
        _label(x, bottom + 18, f"{percent} %"),
        _label(_LEFT - 9, y + 4, f"{percent} %", anchor="end"),
    ]


def _dot(tenth: Tenth) -> list[str]:
    x, y = _x(tenth.mean_chance), _y(tenth.share)
    return [
        f'<path d="M{x:.1f} {_y(tenth.share_low):.1f}V{_y(tenth.share_high):.1f}" stroke="#000"/>',
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{_RADIUS:g}"/>',
    ]


def _bars(tenths: Sequence[Tenth]) -> list[str]:
    """Bars of how many looks there are of each tenth, with the number on each."""
    most = max((each.looks for each in tenths), default=1)
    base = _BARS_TOP + _BARS_HEIGHT
    drawn = [
        _label(_LEFT + _SIDE / 2, base + 20, "looks in each tenth"),
        f'<path d="M{_LEFT:g} {base:g}h{_SIDE:g}" stroke="#000"/>',
    ]
    for each in tenths:
        left, width = _x(each.low) + 4.0, _SIDE / 10 - 8.0
        height = (_BARS_HEIGHT - 14.0) * each.looks / most
        drawn += [
            _box(left, base - height, width, height, fill="#bbb"),
            _label(left + width / 2, base - height - 3, str(each.looks)),
        ]
    return drawn


def _label(x: float, y: float, text: str, *, anchor: str = "middle") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(text)}</text>'


def _box(x: float, y: float, width: float, height: float, *, fill: str) -> str:
    size = f'x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}"'
    return f'<rect {size} fill="{fill}" stroke="#000"/>'


def _x(share: float) -> float:
    return _LEFT + _SIDE * share


def _y(share: float) -> float:
    return _TOP + _SIDE * (1.0 - share)
